//! Every history of small scenes, to the end.
mod scenes;

use drydown_tests::exploration::{explore, shortest};
use scenes::{Form, limits};

#[test]
fn trial() {
    let scene = limits(Form::Quick);
    let start = std::time::Instant::now();
    let found = explore(&scene, 3_000_000);
    println!("{} {found} {:?}", scene.name, start.elapsed());
    if found.broken.is_some() {
        for line in shortest(&scene, 1_000_000) {
            println!("{line}");
        }
    }
}
