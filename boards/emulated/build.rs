//! Which processor a program is built for, and where its machine has its memory.

use std::path::PathBuf;
use std::{env, fs};

/// Flash and memory of a machine: where they begin and how long they are; and how much of the memory
/// is the stack's.
struct Machine {
    flash: (&'static str, &'static str),
    ram: (&'static str, &'static str),
    stack: &'static str,
    /// What else its linker script says.
    beside: &'static str,
}

/// The flash that a program may write, behind what it is itself.
const WRITABLE_FLASH: &str = "MEMORY { PAGES : ORIGIN = 192K, LENGTH = 64K }\n\
    SECTIONS { .flash.pages (NOLOAD) : { *(.flash.pages) } > PAGES }\n";

/// What the program calls it in a `cfg(processor = …)`. Both Arm and RISC-V have several, which
/// their architecture does not tell apart.
fn processor(target: &str) -> Result<&'static str, String> {
    Ok(match target {
        "thumbv6m-none-eabi" => "cortex-m0",
        "thumbv7m-none-eabi" => "cortex-m3",
        "thumbv7em-none-eabihf" => "cortex-m4f",
        "thumbv8m.main-none-eabihf" => "cortex-m33",
        "riscv32imc-unknown-none-elf" => "rv32",
        _ => return Err(format!("no emulated machine is known for {target}")),
    })
}

fn machine(target: &str) -> Machine {
    match target {
        // microbit
        "thumbv6m-none-eabi" => {
            let (flash, ram) = (("0x0", "192K"), ("0x20000000", "16K"));
            Machine { flash, ram, stack: "15K", beside: WRITABLE_FLASH }
        }
        // mps2-an505, booting secure
        "thumbv8m.main-none-eabihf" => {
            let (flash, ram) = (("0x10000000", "4M"), ("0x38000000", "2M"));
            Machine { flash, ram, stack: "48K", beside: "" }
        }
        // lm3s6965evb, mps2-an385, mps2-an386
        _ => {
            let (flash, ram) = (("0x0", "256K"), ("0x20000000", "64K"));
            Machine { flash, ram, stack: "32K", beside: "" }
        }
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
        let Machine { flash, ram, stack, beside } = machine(&target);
        let flash = format!("FLASH : ORIGIN = {}, LENGTH = {}", flash.0, flash.1);
        if env::var_os("CARGO_FEATURE_STACK_ON_STATICS").is_some() {
            format!("MEMORY {{ {flash}\n RAM : ORIGIN = {}, LENGTH = {} }}\n{beside}", ram.0, ram.1)
        } else {
            // The stack at the beginning of the memory, as on the real boards: one that runs over
            // meets what is no memory, and not what other code keeps.
            format!(
                "MEMORY {{ {flash}\n STACK : ORIGIN = {0}, LENGTH = {stack}\n \
                 RAM : ORIGIN = {0} + {stack}, LENGTH = {1} - {stack} }}\n\
                 _stack_start = ORIGIN(STACK) + LENGTH(STACK);\n_stack_end = ORIGIN(STACK);\n{beside}",
                ram.0, ram.1
            )
        }
    };
    let folder = PathBuf::from(env::var_os("OUT_DIR").ok_or("no OUT_DIR")?);
    fs::write(folder.join("memory.x"), memory)?;
    println!("cargo:rustc-link-search={}", folder.display());
    println!("cargo:rustc-link-arg-bins=-Tlink.x");
    println!(
        "cargo:rustc-check-cfg=cfg(processor, values(\"cortex-m0\", \"cortex-m3\", \"cortex-m4f\", \
         \"cortex-m33\", \"rv32\"))"
    );
    println!("cargo:rustc-cfg=processor=\"{}\"", processor(&target)?);
    println!("cargo:rerun-if-changed=build.rs");
    Ok(())
}
