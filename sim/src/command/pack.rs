//! `drydown pack`: the checked configuration for a device, as an image and as source.

use std::fmt::Write as _;
use std::path::PathBuf;

use clap::Args;
use drydown::persist::configuration::LENGTH;
use serde::Serialize;

use super::check::Format;
use super::{Printed, wanted};
use crate::destination::{Destination, Overwriting};
use crate::pack::pack;
use crate::scenario::{Setup, Source, shipped};
use crate::sheet::digits;

/// Pack the checked configuration for a device, and say the number by which the device names it
#[derive(Args, Clone, Debug)]
#[command(
    about = "Pack the checked configuration for a device, and say the number by which it is known",
    long_about = "Pack the checked configuration for a device, and say the number by which it is \
        known.\n\nThe image is read and checked by the library on the device; the source is a Rust \
        constant ZONE that does not compile once it is edited into something that the check refuses. \
        The device reports the same number while it runs what was packed, and another one once a \
        setting or the curve is changed.\n\nA scenario that `drydown check` refuses is not packed, \
        and neither is a copy without its own calibration and flow test. One whose curve nobody \
        measured (probe.measured_curve) is packed, for trying it at the bench, and is said to be not \
        calibrated: it must not water plants.",
    after_help = "Example: drydown pack balcony.toml --image balcony.img --source zone.rs"
)]
pub struct PackArgs {
    /// Scenario file, or the name of a shipped scenario
    #[arg(default_value = shipped::BUILT_IN)]
    pub scenario: String,
    /// Write the image to this file
    #[arg(long, value_name = "FILE")]
    pub image: Option<PathBuf>,
    /// Write the source to this file
    #[arg(long, value_name = "FILE")]
    pub source: Option<PathBuf>,
    /// What may be replaced
    #[command(flatten)]
    pub overwriting: Overwriting,
    /// Format of what is printed
    #[arg(long, value_enum, default_value_t)]
    pub format: Format,
}

#[derive(Serialize)]
struct Told<'a> {
    scenario: &'a str,
    title: &'a str,
    configuration: String,
    bytes: usize,
    /// Nothing where there is no probe.
    curve_measured: Option<bool>,
    image: Option<String>,
    source: Option<String>,
}

/// Packs it, and returns its identity.
///
/// # Errors
/// What is wrong with the scenario or refuted by arithmetic, or a file that is there already.
pub fn run(args: &PackArgs) -> super::Result {
    // Both are found free before either is written.
    let image = wanted("--image", args.image.as_deref(), args.overwriting)?;
    let rust = wanted("--source", args.source.as_deref(), args.overwriting)?;
    let source = Source::open(&args.scenario)?;
    let setup = Setup::load(&source)?;
    Destination::keep_apart(&[&image, &rust], &source.files(&setup.scenario))?;
    let packed = pack(&source, &setup)?;
    let mut notes = vec![];
    if let Some(place) = image {
        place.write(packed.image)?;
        notes.push(format!("image: {place}"));
    }
    if let Some(place) = rust {
        place.write(&packed.source)?;
        notes.push(format!("source: {place}"));
    }
    let told = Told {
        scenario: &args.scenario,
        title: &setup.scenario.title,
        configuration: digits(packed.identity),
        bytes: LENGTH,
        curve_measured: packed.calibration.is_measured(),
        image: image.map(|place| place.to_string()),
        source: rust.map(|place| place.to_string()),
    };
    let text = match args.format {
        Format::Json => {
            // Strings and a number cannot fail to serialise.
            serde_json::to_string_pretty(&told).map(|text| text + "\n").unwrap_or_default()
        }
        Format::Text => {
            let mut text = format!("{}\n", told.title);
            let _ = writeln!(
                text,
                "Configuration {}, {} bytes. `drydown watch` shows this number while the device runs \
                 it.",
                told.configuration, told.bytes
            );
            for line in packed.calibration.caution() {
                let _ = writeln!(text, "{line}");
            }
            text
        }
    };
    Ok(Printed { text, notes, bad: false })
}
