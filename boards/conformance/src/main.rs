//! The stream on the host: prints the line that every emulated chip must print.

fn main() {
    println!("{}", conformance::run(&mut conformance::Unmeasured));
}
