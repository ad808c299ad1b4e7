//! What a device found at its checks at the bench, as a table that a scenario takes.

use std::io::{self, Write};
use std::path::Path;

use drydown::bench::{Check, Findings};

use super::caller::{Caller, Told};
use super::kept::create;
use crate::bench_record::{digits, told};
use crate::error::InputError;

/// Fetches the record into a new file, of a device that said this of itself. Before a check is made
/// there is none.
///
/// # Errors
/// No check was made; the file exists or cannot be written; or why the line broke.
pub fn fetch(caller: &mut Caller, device: &Told, path: &Path) -> Result<Findings, InputError> {
    let findings = caller.findings().map_err(|cause| caller.error(&cause))?;
    if findings.count(None) == Check::ALL.len() {
        return Err(InputError::new(
            "the device has no record for --bench yet: none of its checks at the bench was made",
        )
        .file(caller.address())
        .suggest("The page `Checks` of its display leads through them"));
    }
    let failed = |cause: io::Error| {
        InputError::new(format!("cannot be written: {cause}"))
            .field("--bench")
            .value(path.display())
    };
    let mut out = create("--bench", path)?;
    out.write_all(table(&findings, device).as_bytes())
        .and_then(|()| out.flush())
        .map_err(failed)?;
    Ok(findings)
}

/// The table, with what it says for a person.
fn table(findings: &Findings, device: &Told) -> String {
    let checks: String =
        Check::ALL.iter().map(|check| format!("#   {}\n", told(findings, *check))).collect();
    let of = findings.identity;
    let since = if of == device.config {
        String::new()
    } else {
        format!(
            "# The device runs {:08x} now: what was changed since is not checked.\n",
            device.config
        )
    };
    format!(
        "# Checks at the bench, by the record of the device: {}, {}, configuration {of:08x}.\n{since}\
         {checks}# The line below belongs into the table of the same name of the scenario.\n\
         [commissioned]\nbench_record = \"{}\"\n",
        device.board,
        device.firmware,
        digits(findings)
    )
}
