//! A configuration as bytes: refused, or exactly what was written, and told apart by one number.
//! The committed image was made by a script that knows the documented layout and the published CRC,
//! not by this library. Its content is invented.

use drydown::calibration::{Basis, Curve, CurvePoint};
use drydown::guard::Window;
use drydown::persist::Settings;
use drydown::persist::configuration::{ImageError, LENGTH, decode, encode, identity};
use drydown::policy::{BuiltIn, Hysteresis, Timer};
use drydown::probe::{FrostHold, ProbeConfig, Rail};
use drydown::quantity::{Millis, Moisture, RawCounts};
use drydown::zone::{CheckedZone, Probes, SignalRules, Stance, ZoneConfig};
use drydown_tests::configs::{all_fitted, band, curve, pump, trough};
use drydown_tests::crc::crc32;

const IMAGE: &[u8; LENGTH] = include_bytes!("../data/configuration-v1.bin");
/// Length of what the CRC covers.
const COVERED: usize = LENGTH - 4;

fn checked(config: &ZoneConfig) -> CheckedZone {
    config.check().expect("an invented configuration")
}

/// Puts the check right, so that only the values are judged.
fn sealed(mut bytes: [u8; LENGTH]) -> [u8; LENGTH] {
    let check = crc32(&bytes[..COVERED]);
    bytes[COVERED..].copy_from_slice(&check.to_le_bytes());
    bytes
}

#[test]
fn the_configuration_of_version_1_stays_readable() {
    assert_eq!(decode(IMAGE), Ok(checked(&all_fitted())));
    assert_eq!(encode(&checked(&all_fitted())), Some(*IMAGE));
}

#[test]
fn every_kind_of_configuration_comes_back_from_its_bytes() {
    let timer = BuiltIn::Timer(Timer { dose: Millis::from_secs(30), every: Millis::from_hours(8) });
    let long = curve(&[(3_000, 0), (2_000, 3_000), (1_500, 4_000), (1_000, 6_000)]);
    let without = ZoneConfig { probes: Probes::None, policy: timer, ..trough() };
    let usable = (RawCounts(100), RawCounts(3_900));
    let probe = ProbeConfig::around(long, RawCounts(3_050), RawCounts(950), usable, Rail::Low);
    let probes = Probes::One(probe.check().expect("an invented probe"));
    let in_air = SignalRules { frost: Some(FrostHold::USUAL), ..without.signals };
    let points = [(2_850, 0), (870, 10_000)].map(|(raw, centi)| CurvePoint {
        raw: RawCounts(raw),
        moisture: Moisture::from_centi(centi),
    });
    let span = Curve::new(&points, Basis::Span).expect("an invented curve");
    let span = ProbeConfig::around(span, RawCounts(2_850), RawCounts(870), usable, Rail::Low);
    let of_span = ZoneConfig {
        probes: Probes::One(span.check().expect("an invented probe")),
        policy: BuiltIn::Hysteresis(Hysteresis {
            band: band(),
            basis: Basis::Span,
            agree: 3,
            soak: Millis::from_mins(20),
        }),
        ..trough()
    };
    let dosed = Stance::TestDose { dose: Millis::from_secs(40) };
    let configs = [
        trough(),
        pump(),
        without,
        ZoneConfig { signals: in_air, ..without },
        ZoneConfig { probes, ..trough() },
        of_span,
        ZoneConfig { stance: dosed, ..trough() },
    ];
    for config in configs.each_ref().map(checked) {
        let image = encode(&config).expect("a day");
        assert_eq!(decode(&image), Ok(config));
        assert_eq!(image[COVERED..], identity(&config).to_le_bytes());
        assert_eq!(identity(&config), crc32(&image[..COVERED]));
    }
}

/// Nothing else is kept by a device, and exploration needs nothing of it.
#[test]
fn a_limit_over_another_span_than_a_day_has_no_image() {
    let window = Window::scaled(Millis::from_hours(4), 3);
    let config = ZoneConfig { window, ..trough() };
    assert_eq!(config.check().map(|config| encode(&config)), Ok(None));
}

/// What a person changes far away is in the number, and so are curve and limits.
#[test]
fn a_changed_setting_is_another_configuration() {
    let before = checked(&trough());
    let changed = Settings { start: Some(Moisture::from_centi(2_501)), ..Settings::default() };
    let after = before.with(&changed).expect("within its bounds");
    assert_ne!(identity(&after), identity(&before));
    let back = Settings { start: Some(Moisture::from_centi(2_500)), ..Settings::default() };
    assert_eq!(after.with(&back).map(|config| identity(&config)), Ok(identity(&before)));
}

#[test]
fn every_flipped_bit_and_every_two_of_a_configuration_are_refused() {
    // A CRC is linear: what a flip does to it hangs on its place alone, so that two flips go unseen
    // only if each does the same.
    let zeroes = crc32(&[0; COVERED]);
    let mut done = std::collections::HashSet::new();
    for bit in 0..8 * LENGTH {
        let mut bytes = *IMAGE;
        bytes[bit / 8] ^= 1 << (bit % 8);
        let error = decode(&bytes).expect_err("a flip");
        assert!(matches!(error, ImageError::Check | ImageError::Version(_)), "bit {bit}: {error}");
        let does = if bit < 8 * COVERED {
            let mut alone = [0; COVERED];
            alone[bit / 8] ^= 1 << (bit % 8);
            crc32(&alone) ^ zeroes
        } else {
            1 << (bit - 8 * COVERED)
        };
        assert!(does != 0 && done.insert(does), "bit {bit} does what another one does");
    }
    assert_eq!(done.len(), 3_392);
}

#[test]
fn every_truncation_of_a_configuration_is_refused() {
    for length in 0..LENGTH {
        assert_eq!(decode(&IMAGE[..length]), Err(ImageError::Length(length)));
        // As a cut leaves it in blank flash, and as a page of zeroes would.
        for filler in [0x00, 0xFF] {
            let mut bytes = [filler; LENGTH];
            bytes[..length].copy_from_slice(&IMAGE[..length]);
            assert!(bytes == *IMAGE || decode(&bytes).is_err(), "{length} of {filler}");
        }
    }
    let longer = [IMAGE.as_slice(), &[0]].concat();
    assert_eq!(decode(&longer), Err(ImageError::Length(LENGTH + 1)));
}

/// Whatever one byte says instead, with its check put right: refused, or a configuration that
/// passed every check and is written alike. No byte is idle.
#[test]
fn every_byte_says_something_or_is_refused() {
    let (mut accepted, mut refused) = (0, 0);
    for place in 0..COVERED {
        let mut told = 0;
        for value in 0..=u8::MAX {
            if value == IMAGE[place] {
                continue;
            }
            let mut bytes = *IMAGE;
            bytes[place] = value;
            let bytes = sealed(bytes);
            match decode(&bytes) {
                Ok(config) => {
                    assert_eq!(encode(&config), Some(bytes), "byte {place}");
                    assert_ne!(config, checked(&all_fitted()), "byte {place}");
                    told += 1;
                }
                Err(_) => refused += 1,
            }
        }
        accepted += told;
        let idle = (19..71).contains(&place) // places of points that the first curve does not have
            || (130..186).contains(&place); // and the second
        assert!(!idle || told == 0, "byte {place} is of no point");
    }
    assert_eq!(accepted + refused, 255 * COVERED);
    assert!(accepted > 20_000 && refused > 20_000, "{accepted} accepted, {refused} refused");
}

#[test]
fn what_is_wrong_with_a_value_is_said_by_name() {
    // Place in the documented layout, bytes, and what the error must name.
    let cases: [(usize, &[u8], &str); 15] = [
        (0, &[2], "the version is 2, must be 1"),
        (1, &[1], "the kind is 1, must be 3"),
        (2, &[0xA7, 0x01], "length is 423, must be 424 to 424"),
        (4, &[3], "probes is 3, must be 0 to 2"),
        (5, &[0], "probe.basis is 0, must be 1 to 2"),
        (6, &[17], "probe.points is 17, must be 2 to 16"),
        (9, &[0x11, 0x27], "probe.point is 10001, must be 0 to 10000"),
        (71, &[2], "probe.temperature is 2, must be 0 to 1"),
        (241, &[0], "policy is 0, must be 1 to 3"),
        (268, &[2], "sampling.while_open is 2, must be 0 to 1"),
        (356, &[3], "stance is 3, must be 0 to 2"),
        // The rules that a configuration typed in must keep.
        (7, &[0xFF, 0xFF], "curve point 2: raw 2850 does not follow 1500"),
        (110, &[5], "smoothing: 5 is above 4"),
        (244, &[0xC4, 0x09], "band: start 2500 and stop 2500"),
        (273, &[0, 0, 0xFF, 0], "limits.max_open is 16711680, must be at most 1200000"),
    ];
    for (place, value, message) in cases {
        let mut bytes = *IMAGE;
        bytes[place..place + value.len()].copy_from_slice(value);
        let error = decode(&sealed(bytes)).expect_err(message).to_string();
        assert!(error.starts_with(message), "{error} should be {message}");
    }
    // The points from the other end are the same curve, and not the same bytes.
    let mut turned = *IMAGE;
    turned[7..19].copy_from_slice(&[&IMAGE[15..19], &IMAGE[11..15], &IMAGE[7..11]].concat());
    assert_eq!(decode(&sealed(turned)), Err(ImageError::Strange));
    let mut filled = *IMAGE;
    filled[256] = 1;
    assert_eq!(decode(&sealed(filled)), Err(ImageError::Strange));
}
