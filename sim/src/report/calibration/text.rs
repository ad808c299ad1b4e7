//! A calibration for a terminal, 80 columns.

use super::{HEADS, MISSED, rows, sentences, title};
use crate::calibrate::Calibration;
use crate::report::text::{paragraph, push_line, write_section};

/// Widths of the columns of the table of points.
const WIDTHS: [usize; 5] = [8, 9, 11, 11, 12];

/// A calibration as text.
pub fn text(calibration: &Calibration) -> String {
    let mut out = String::new();
    paragraph(&mut out, &title(calibration), 0);
    out.push('\n');
    for section in sentences::of(calibration).1 {
        write_section(&mut out, &section);
    }
    out.push_str("\nPOINTS\n");
    if !calibration.compared.is_empty() {
        paragraph(&mut out, MISSED, 0);
        out.push('\n');
    }
    let heads = HEADS.map(|head| head.0.to_owned());
    let units = HEADS.map(|head| head.1.to_owned());
    for row in [heads, units].into_iter().chain(rows(calibration)) {
        let cells = row.iter().zip(WIDTHS).map(|(cell, width)| format!("{cell:>width$}"));
        push_line(&mut out, &cells.collect::<String>());
    }
    out.push_str("\nCURVE OF THE DEVICE\n");
    for point in &calibration.device.points {
        push_line(&mut out, &format!("{:>8}  {:>6.2} %", point.raw, point.water_pct));
    }
    out
}
