//! Tells the linker where the program begins, so that it keeps what the program reaches.

fn main() {
    println!("cargo:rustc-link-arg-bins=--entry=start");
    println!("cargo:rustc-link-arg-bins=--gc-sections");
}
