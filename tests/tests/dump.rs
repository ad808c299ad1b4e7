//! x
#[test]
fn dump() {
    let n: u64 = std::env::var("N").unwrap().parse().unwrap();
    std::fs::write(
        format!("/tmp/stream-y{n}.toml"),
        drydown_tests::health::DeviceYear(n).scenario(),
    )
    .unwrap();
}
