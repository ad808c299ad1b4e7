//! Packing from outside: the image as the library reads it, the number that stands everywhere.

mod from_outside;

use std::net::{TcpListener, TcpStream};
use std::thread;

use drydown::persist::configuration::{decode, identity};
use drydown_sim::scenario::{Setup, Source, shipped};
use from_outside::{Folder, changed, drydown, drydown_in, example_of, stderr, stdout};
use serde_json::Value;

fn packed(scenario: &str) -> String {
    let output = drydown(&["pack", scenario, "--format", "json"]);
    assert_eq!(output.status.code(), Some(0), "{scenario}: {}", stderr(&output));
    let told: Value = serde_json::from_str(&stdout(&output)).expect("JSON");
    told["configuration"].as_str().expect("eight digits").to_owned()
}

#[test]
fn the_example_of_the_help_packs_what_the_library_reads() {
    let folder = Folder::new("pack");
    let path = folder.write("balcony.toml", &changed("start_pct = 51", "start_pct = 50.5"));
    let example = example_of("pack");
    let output = drydown_in(&folder.0, &example);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    let image = std::fs::read(folder.0.join("balcony.img")).expect("the image");
    let config = decode(&image).expect("it is whole, and passes every check");
    let setup = Setup::load(&Source::open(&path).expect("there")).expect("a scenario");
    assert_eq!(config, setup.zone);
    let number = format!("{:08x}", identity(&config));
    assert!(stdout(&output).contains(&format!("Configuration {number}, 424 bytes.")));
    assert_eq!(packed(&path), number);
    let source = std::fs::read_to_string(folder.0.join("zone.rs")).expect("the source");
    assert!(source.contains(&format!("reports the configuration {number}.")));
    // Neither file is overwritten unasked; the image alone being there keeps the source unwritten.
    let output = drydown_in(&folder.0, &["pack", "dry-week", "--image", "balcony.img"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(stderr(&output).contains("--image is `balcony.img`, it is there already"));
    let both = ["pack", "dry-week", "--source", "new.rs", "--image", "balcony.img"];
    assert_eq!(drydown_in(&folder.0, &both).status.code(), Some(2));
    assert!(!folder.0.join("new.rs").exists());
    assert_eq!(std::fs::read(folder.0.join("balcony.img")).expect("the image"), image);
    let output = drydown_in(&folder.0, &[&both[..], &["--overwrite"]].concat());
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    assert_ne!(std::fs::read(folder.0.join("balcony.img")).expect("the image"), image);
}

/// A curve that nobody measured is packed and said to be none of a real probe, wherever a person looks.
/// Word for word the same points from a bench are the same configuration, without that word.
#[test]
fn a_modelled_curve_is_said_not_to_be_measured() {
    let folder = Folder::new("pack-modelled");
    let own = changed("seed = 7", "seed = 7");
    // The points that the sheet of the built-in week shows.
    let bench = "\n[probe]\nmeasured_curve = [[1404, 74.89], [1552, 60.09], [1739, 44.23], \
                 [1895, 35.63], [2084, 24.99], [2321, 14.9], [2623, 4.4]]\n";
    let timer = own.replace(
        "policy = \"hysteresis\"\nstart_pct = 51\nstop_pct = 55",
        "policy = \"timer\"\ndose_s = 700\nevery_h = 8",
    );
    let mut numbers = vec![];
    for (name, text, measured) in [
        ("modelled", own.clone(), Value::Bool(false)),
        ("measured", own + bench, Value::Bool(true)),
        ("timer", timer, Value::Null),
    ] {
        let path = folder.write(&format!("{name}.toml"), &text);
        let source = folder.0.join(format!("{name}.rs")).display().to_string();
        let output = drydown(&["pack", &path, "--source", &source]);
        assert_eq!(output.status.code(), Some(0), "{name}: {}", stderr(&output));
        let source = std::fs::read_to_string(source).expect("the source");
        let (heading, _) = source.split_once("pub const ZONE").expect("the constant");
        for told in [heading, &stdout(&output)] {
            let is_told =
                told.contains("NOT CALIBRATED") && told.contains("modelled, not measured");
            assert_eq!(is_told, measured == Value::Bool(false), "{name}: {told}");
        }
        let output = drydown(&["pack", &path, "--format", "json"]);
        let told: Value = serde_json::from_str(&stdout(&output)).expect("JSON");
        assert_eq!(told["curve_measured"], measured, "{name}");
        numbers.push(told["configuration"].clone());
    }
    assert_eq!(numbers[0], numbers[1]);
}

/// What `check` refuses is not packed; the field and what to do are named.
#[test]
fn what_check_refuses_is_not_packed() {
    let folder = Folder::new("pack-refused");
    for (from, to, field) in [
        ("stop_pct = 55", "stop_pct = 74", "control.stop_pct is refused by `drydown check`"),
        ("limit_24h_s = 3600", "limit_24h_s = 1200", "control.limit_24h_s is refused"),
        // What cannot even be prepared, as every command says it.
        ("start_pct = 51", "start_pct = 56", "control.start_pct is `56`, it must be below"),
    ] {
        let path = folder.changed(from, to);
        let image = folder.0.join("image");
        let output = drydown(&["pack", &path, "--image", &image.display().to_string()]);
        assert_eq!(output.status.code(), Some(2), "{to}");
        assert!(stderr(&output).contains(field), "{}", stderr(&output));
        assert!(stderr(&output).contains("scenario.toml, line "), "{}", stderr(&output));
        assert!(!image.exists());
    }
}

/// The number on the desk is what a board reports that runs the configuration, on every scenario that
/// can be packed.
#[test]
fn a_board_in_the_loop_reports_what_was_packed() {
    let mut boards = 0;
    for one in shipped::SHIPPED {
        let pack = drydown(&["pack", one.name, "--format", "json"]);
        if pack.status.code() != Some(0) {
            continue;
        }
        let listener = TcpListener::bind("127.0.0.1:0").expect("a socket");
        let place = format!("tcp:{}", listener.local_addr().expect("its address"));
        let board = thread::spawn(move || {
            let (stream, _) = listener.accept().expect("the program connects");
            stream.set_nodelay(true).expect("a socket");
            in_the_loop::serve(Line(stream));
        });
        let output = drydown(&["run", one.name, "--days", "0.1", "--board", &place]);
        let number = packed(one.name);
        let told = format!("its configuration is {number}");
        assert!(stderr(&output).contains(&told), "{}: {}", one.name, stderr(&output));
        board.join().expect("the board ends with its line");
        boards += 1;
    }
    assert!(boards >= 5, "{boards}");
}

struct Line(TcpStream);

impl embedded_io::ErrorType for Line {
    type Error = std::io::Error;
}

impl embedded_io::Read for Line {
    fn read(&mut self, into: &mut [u8]) -> std::io::Result<usize> {
        std::io::Read::read(&mut self.0, into)
    }
}

impl embedded_io::Write for Line {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        std::io::Write::write(&mut self.0, bytes)
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}
