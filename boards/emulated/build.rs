//! Where each emulated machine has its memory.

use std::path::PathBuf;
use std::{env, fs};

/// Flash and memory of a machine: where they begin and how long they are; and how much of the memory
/// is the stack's.
struct Machine {
    flash: (&'static str, &'static str),
    ram: (&'static str, &'static str),
    stack: &'static str,
}

fn machine(target: &str) -> Machine {
    match target {
        // microbit
        "thumbv6m-none-eabi" => {
            Machine { flash: ("0x0", "256K"), ram: ("0x20000000", "16K"), stack: "15872" }
        }
        // mps2-an505, booting secure
        "thumbv8m.main-none-eabihf" => {
            Machine { flash: ("0x10000000", "4M"), ram: ("0x38000000", "2M"), stack: "48K" }
        }
        // lm3s6965evb, mps2-an385, mps2-an386
        _ => Machine { flash: ("0x0", "256K"), ram: ("0x20000000", "64K"), stack: "32K" },
    }
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let target = env::var("TARGET")?;
    let memory = if target.starts_with("riscv32") {
        // virt has its memory where its kernel is loaded, and no flash that it starts from.
        println!("cargo:rustc-link-arg-bins=-Tmemory.x");
        "MEMORY { RAM : ORIGIN = 0x80000000, LENGTH = 16M }\n\
         REGION_ALIAS(\"REGION_TEXT\", RAM);\nREGION_ALIAS(\"REGION_RODATA\", RAM);\n\
         REGION_ALIAS(\"REGION_DATA\", RAM);\nREGION_ALIAS(\"REGION_BSS\", RAM);\n\
         REGION_ALIAS(\"REGION_HEAP\", RAM);\nREGION_ALIAS(\"REGION_STACK\", RAM);\n"
            .to_owned()
    } else {
        let Machine { flash, ram, stack } = machine(&target);
        let flash = format!("FLASH : ORIGIN = {}, LENGTH = {}", flash.0, flash.1);
        if env::var_os("CARGO_FEATURE_STACK_ON_STATICS").is_some() {
            format!("MEMORY {{ {flash}\n RAM : ORIGIN = {}, LENGTH = {} }}\n", ram.0, ram.1)
        } else {
            // The stack at the beginning of the memory, as on the real boards: one that runs over
            // meets what is no memory, and not what other code keeps.
            format!(
                "MEMORY {{ {flash}\n STACK : ORIGIN = {0}, LENGTH = {stack}\n \
                 RAM : ORIGIN = {0} + {stack}, LENGTH = {1} - {stack} }}\n\
                 _stack_start = ORIGIN(STACK) + LENGTH(STACK);\n_stack_end = ORIGIN(STACK);\n",
                ram.0, ram.1
            )
        }
    };
    let folder = PathBuf::from(env::var_os("OUT_DIR").ok_or("no OUT_DIR")?);
    fs::write(folder.join("memory.x"), memory)?;
    println!("cargo:rustc-link-search={}", folder.display());
    println!("cargo:rustc-link-arg-bins=-Tlink.x");
    println!("cargo:rustc-check-cfg=cfg(cortex_m0)");
    if target == "thumbv6m-none-eabi" {
        println!("cargo:rustc-cfg=cortex_m0");
    }
    println!("cargo:rerun-if-changed=build.rs");
    Ok(())
}
