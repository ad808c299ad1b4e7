//! A configuration as bytes: refused, or exactly what was written, and told apart by one number.
//! The committed image was made by a script that knows the documented layout and the published CRC,
//! not by this library. Its content is invented.

use drydown::calibration::{Basis, Curve, CurvePoint, TemperatureTerm};
use drydown::guard::{Limits, ResponseConfig, Timing, Window};
use drydown::persist::Settings;
use drydown::persist::configuration::{ImageError, LENGTH, decode, encode, identity};
use drydown::policy::{BuiltIn, Metered, Timer};
use drydown::probe::{CheckedProbe, Drainage, FlatLimit, FrostHold, OutOfSoil, ProbeConfig, Rail};
use drydown::quantity::{DeciCelsius, Flow, Millis, Moisture, RawCounts, Volume};
use drydown::soil::Band;
use drydown::watch::WatchConfig;
use drydown::zone::{
    ByHand, CheckedZone, FlowRule, LoadRule, Probes, Sampling, SignalRules, Stance, ZoneConfig,
};
use drydown_tests::configs::{pump, trough};
use drydown_tests::crc::crc32;

const IMAGE: &[u8; LENGTH] = include_bytes!("../data/configuration-v1.bin");
/// Length of what the CRC covers.
const COVERED: usize = LENGTH - 4;

fn curve(points: &[(u16, u16)]) -> Curve {
    let point = |&(raw, centi): &(u16, u16)| CurvePoint {
        raw: RawCounts(raw),
        moisture: Moisture::from_centi(centi),
    };
    let points: Vec<CurvePoint> = points.iter().map(point).collect();
    Curve::new(&points, Basis::Volumetric).expect("an invented curve")
}

/// Listed from the dry end; the image has it by rising counts.
fn first() -> CheckedProbe {
    let term = TemperatureTerm { sixteenths_per_degree: -320, reference: DeciCelsius(215) };
    let curve = curve(&[(2_850, 0), (1_500, 4_200), (870, 10_000)]).with_temperature(term);
    let usable = (RawCounts(100), RawCounts(3_900));
    let (air, water) = (RawCounts(2_850), RawCounts(870));
    let around = ProbeConfig::around(curve.expect("a mild term"), air, water, usable, Rail::Low);
    let probe = ProbeConfig { frost: Some(FrostHold::USUAL), ..around };
    probe.check().expect("the first invented probe")
}

/// One that counts upwards when it gets wet, and has nothing that can be left out.
fn second() -> CheckedProbe {
    let probe = ProbeConfig {
        curve: curve(&[(700, 500), (2_600, 9_000)]),
        lowest: RawCounts(500),
        highest: RawCounts(2_800),
        open_reads: Rail::High,
        usable_low: RawCounts(80),
        usable_high: RawCounts(3_950),
        most_spread: 190,
        flat: None,
        most_fall_per_hour: 900,
        detection: 120,
        drainage: Drainage { rise: 180, length: Millis::from_hours(1) },
        out_of_soil: OutOfSoil { step: 600, rate: 450, air_edge: RawCounts(800) },
        smoothing: 0,
        frost: None,
    };
    probe.check().expect("the second invented probe")
}

/// What the committed image holds: everything that can be fitted is.
fn rich() -> ZoneConfig {
    let small_dose = Millis::from_secs(20);
    let (first, second) = (first(), second());
    let band = Band::new(Moisture::from_percent(25), Moisture::from_percent(35), 500);
    ZoneConfig {
        probes: Probes::Two { first, second, most_apart: 800, small_dose },
        policy: BuiltIn::Metered(Metered {
            band: band.expect("a band"),
            basis: Basis::Volumetric,
            agree: 4,
            dose: Millis::from_secs(45),
            soak: Millis::from_mins(30),
        }),
        sampling: Sampling {
            period: Millis::from_mins(10),
            open_period: Millis::from_secs(10),
            while_open: false,
            warm_up: Millis(200),
        },
        limits: Limits {
            max_open: Millis::from_mins(2),
            min_open: Millis::from_secs(2),
            min_closed: Millis::from_secs(45),
            per_day: Millis::from_mins(20),
            fallback_per_day: Millis::from_mins(5),
            local_per_day: Millis::from_mins(15),
            remote_per_day: Millis::from_mins(10),
            bench_per_day: Millis::from_mins(4),
        },
        timing: Timing {
            open_step: Millis::from_secs(1),
            slack: Millis(500),
            hold_off: Millis::from_mins(1),
            tick: Millis(10),
            watchdog: Millis::from_secs(2),
            run_down: Millis(1_500),
            commit_wait: Millis(2_500),
            jumps_per_day: 4,
            resets_while_open: 3,
        },
        response: ResponseConfig {
            detection: 110,
            judged_after: Millis::from_mins(1),
            window: Millis::from_mins(45),
            tries: 2,
        },
        by_hand: ByHand {
            remote_longest: Millis::from_secs(90),
            remote_acknowledge: true,
            bench_lasts: Millis::from_mins(30),
        },
        stance: Stance::Ration { dose: Millis::from_secs(30), every: Millis::from_hours(8) },
        signals: SignalRules {
            flow: Some(FlowRule {
                least: Flow(9_000),
                most: Flow(16_000),
                grace: Millis::from_secs(20),
                most_closed: Flow(240),
                closed_after: Millis::from_mins(1),
            }),
            load: Some(LoadRule { least_ma: 180, most_ma: 420, grace: Millis(700) }),
            lowest_supply_mv: 3_300,
        },
        watch: WatchConfig {
            overdue_demand: Volume(2_500_000),
            overdue_after: Millis::from_hours(96),
            too_wet: Moisture::from_percent(64),
            too_wet_after: Millis::from_hours(48),
            short_interval: Millis(1_750_000),
            short_cycles: 6,
            rise: 150,
            commissioned_rise: 210,
        },
        window: Window::DAY,
    }
}

fn checked(config: ZoneConfig) -> CheckedZone {
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
    assert_eq!(decode(IMAGE), Ok(checked(rich())));
    assert_eq!(encode(&checked(rich())), Some(*IMAGE));
}

#[test]
fn every_kind_of_configuration_comes_back_from_its_bytes() {
    let timer = BuiltIn::Timer(Timer { dose: Millis::from_secs(30), every: Millis::from_hours(8) });
    let long = curve(&[(3_000, 0), (2_000, 3_000), (1_500, 4_000), (1_000, 6_000)]);
    let without = ZoneConfig { probes: Probes::None, policy: timer, ..trough() };
    let usable = (RawCounts(100), RawCounts(3_900));
    let probe = ProbeConfig::around(long, RawCounts(3_050), RawCounts(950), usable, Rail::Low);
    let probes = Probes::One(probe.check().expect("an invented probe"));
    let dosed = Stance::TestDose { dose: Millis::from_secs(40) };
    let configs = [
        trough(),
        pump(),
        without,
        ZoneConfig { probes, ..trough() },
        ZoneConfig { stance: dosed, ..trough() },
    ];
    for config in configs.map(checked) {
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
    let before = checked(trough());
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
                    assert_ne!(config, checked(rich()), "byte {place}");
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
        (244, &[0xC4, 0x09], "start 2500 and stop 2500"),
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
