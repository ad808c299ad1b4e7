//! Hands the linker the HAL's memory map.

fn main() {
    println!("cargo:rustc-link-arg-bins=-Tlinkall.x");
    if std::env::var_os("CARGO_FEATURE_DEFMT").is_some() {
        println!("cargo:rustc-link-arg-bins=-Tdefmt.x");
    }
}
