//! Water a day, power a day, starts a day, and the pots without a probe.

use drydown_sim::check::{Kind, Severity};

use crate::plain::{changed, found, powered, severity, steady, with_weather};

/// The plants take 0.6 L a day, 540 s at 4 L/h. Between drained and short of water the soil holds
/// 0.26·40 % of 10 L, 1.04 L (p = 0.26: FAO-56 Table 22, note 2): over seven days the limit must give
/// (4.2 − 1.04)/7 = 0.451 L a day, 406.3 s.
#[test]
fn a_limit_below_the_use() {
    let limit = |limit| {
        let short = [("max_open_s = 1200", "max_open_s = 300"), ("limit_24h_s = 3600", limit)];
        severity(&short, Kind::LimitBelowUse)
    };
    assert_eq!(limit("limit_24h_s = 405"), Some(Severity::Refuted));
    assert_eq!(limit("limit_24h_s = 408"), Some(Severity::Look));
    assert_eq!(limit("limit_24h_s = 539"), Some(Severity::Look));
    assert_eq!(limit("limit_24h_s = 541"), None);
}

/// A dose of 90 s is 0.1 L. As often as a soak of 238.5 min and the dose itself allow, six times a day,
/// it gives 0.6 L; over seven days 0.451 L a day would do (as above): 4.51 times, 317.5 min apart.
#[test]
fn doses_too_far_apart() {
    let soak = |soak| {
        let changes = [
            ("policy = \"hysteresis\"", "policy = \"metered\"\ndose_s = 90"),
            ("soak_min = 30", soak),
        ];
        severity(&changes, Kind::DosesBelowUse)
    };
    assert_eq!(soak("soak_min = 238"), None);
    assert_eq!(soak("soak_min = 239"), Some(Severity::Look));
    assert_eq!(soak("soak_min = 317"), Some(Severity::Look));
    assert_eq!(soak("soak_min = 318.5"), Some(Severity::Refuted));
    // By the clock the interval takes the place of the soak.
    let every = |every| severity(&[("policy = \"hysteresis\"", every)], Kind::DosesBelowUse);
    assert_eq!(every("policy = \"timer\"\ndose_s = 540\nevery_h = 23.8"), None);
    assert_eq!(every("policy = \"timer\"\ndose_s = 540\nevery_h = 23.9"), Some(Severity::Look));
}

/// Rain that falls on the pot (0.05 m² of surface) is not asked of the limit: 8 mm are 0.4 L.
#[test]
fn rain_takes_its_part() {
    let short =
        [("max_open_s = 1200", "max_open_s = 300"), ("limit_24h_s = 3600", "limit_24h_s = 405")];
    let mut setup = steady(&changed(&short), 6.0);
    with_weather(&mut setup, |place, hour| {
        if place == 30 {
            hour.rain_mm_h = 8.0;
        }
    });
    // 0.4 L less over seven days: 355 s a day, and 405 s bridge it.
    let finding = found(&setup, Kind::LimitBelowUse).expect("0.45 L a day are below 0.6 L");
    assert_eq!(finding.severity, Severity::Look);
}

/// So does what a person pours: 0.4 L.
#[test]
fn cans_take_their_part() {
    let limit = "limit_24h_s = 405\n[[person]]\ndoes = \"pours-can\"\namount = 0.4\nat_h = 30";
    let short = [("max_open_s = 1200", "max_open_s = 300"), ("limit_24h_s = 3600", limit)];
    assert_eq!(severity(&short, Kind::LimitBelowUse), Some(Severity::Look));
}

/// Three measurements of a minute and one opening to the time limit (common practice) are 1380 s,
/// and the plants take 540 s a day.
#[test]
fn a_limit_that_commissioning_uses_up() {
    let limit = |limit| severity(&[("limit_24h_s = 3600", limit)], Kind::LimitSpentByHand);
    assert_eq!(limit("limit_24h_s = 1919"), Some(Severity::Look));
    assert_eq!(limit("limit_24h_s = 1921"), None);
}

/// Four doses by hand of 1000 s within 24 h, and 540 s for the plants.
#[test]
fn a_limit_that_a_person_uses_up() {
    let limit = |limit| {
        let person =
            "[[person]]\ndoes = \"waters-by-hand\"\namount = 1000\nat_h = 24\nevery_h = 7.9";
        let text = format!("{limit}\n{person}");
        severity(&[("limit_24h_s = 3600", &text)], Kind::LimitSpentByHand)
    };
    assert_eq!(limit("limit_24h_s = 4539"), Some(Severity::Look));
    assert_eq!(limit("limit_24h_s = 4541"), None);
    // Hands may take only a part.
    assert_eq!(limit("limit_24h_s = 3539\nby_hand_24h_s = 3000"), Some(Severity::Look));
    assert_eq!(limit("limit_24h_s = 3541\nby_hand_24h_s = 3000"), None);
}

/// The limit lets 4 L through in 24 hours with power, and frees itself in no others. 0.6 L a day
/// need 3.6 h. In fourteen days 8.4 L are used; the soil gives 1.04 L and the limit 4 L at once:
/// 14·(0.6 − 4·h/24) reaches 5.04 L at h = 1.44.
#[test]
fn few_hours_with_power() {
    let text = changed(&[("days = 7", "days = 14")]);
    let hours = |hours| {
        let setup = steady(&powered(&text, 14, hours), 6.0);
        found(&setup, Kind::FewPoweredHours).map(|finding| finding.severity)
    };
    assert_eq!(hours(3.61), None);
    assert_eq!(hours(3.59), Some(Severity::Look));
    assert_eq!(hours(1.45), Some(Severity::Look));
    assert_eq!(hours(1.43), Some(Severity::Refuted));
}

/// The limit frees itself in 24 slots that cover 24 h of a clock 2 % fast and four jumps of up to ten
/// minutes and half a second: 25.15 h / 24 = 1.048 h. A shorter stretch with power frees nothing: of
/// 16 L at four hours of 4 L/h, thirty days of 0.6 L use more than them and the soil's 1.04 L.
#[test]
fn power_too_short_for_the_limit_to_free_itself() {
    let text = changed(&[("days = 7", "days = 30"), ("limit_24h_s = 3600", "limit_24h_s = 14400")]);
    let hours = |hours| {
        let setup = steady(&powered(&text, 30, hours), 6.0);
        found(&setup, Kind::FewPoweredHours).map(|finding| finding.severity)
    };
    assert_eq!(hours(1.04), Some(Severity::Refuted));
    assert_eq!(hours(1.05), None);
}

/// Three readings ten minutes apart, the first at once: 20 min, 0.333 h. Longer power waters, from a
/// limit that never frees itself.
#[test]
fn power_that_ends_before_the_first_watering() {
    let text = changed(&[("limit_24h_s = 3600", "limit_24h_s = 86400")]);
    let hours = |hours| {
        let setup = steady(&powered(&text, 7, hours), 6.0);
        found(&setup, Kind::FewPoweredHours).map(|finding| finding.severity)
    };
    assert_eq!(hours(0.33), Some(Severity::Refuted));
    assert_eq!(hours(0.34), Some(Severity::Look));
}

/// 200 000 operations of a valve in five years (life table of a relay output module, GFK-1504N) are
/// 109.6 starts a day: 0.63 L (0.6 for the plants, 0.03 for the sun) in doses of 5.748 mL, 5.17 s.
#[test]
fn contacts_that_wear_out() {
    let dose = |dose, soak| {
        let changes = [("policy = \"hysteresis\"", dose), ("soak_min = 30", soak)];
        severity(&changes, Kind::RelayWearsOut)
    };
    let (short, long) =
        ("policy = \"metered\"\ndose_s = 5.15", "policy = \"metered\"\ndose_s = 5.2");
    assert_eq!(dose(short, "soak_min = 1"), Some(Severity::Look));
    assert_eq!(dose(long, "soak_min = 1"), None);
    // A soak of half an hour allows 48 starts a day at most.
    assert_eq!(dose(short, "soak_min = 30"), None);
}

/// A pump's contacts last 50 000 operations at 2 A (the same table): 27.4 a day, by the clock every
/// 0.876 h.
#[test]
fn a_pump_wears_its_contacts_faster() {
    let every = |every| {
        let pump = "tank_l = 10\npump_l_h = 40\npump_head_m = 8";
        let changes = [("mains_head_m = 10", pump), ("policy = \"hysteresis\"", every)];
        severity(&changes, Kind::RelayWearsOut)
    };
    let finding = every("policy = \"timer\"\ndose_s = 30\nevery_h = 0.87");
    assert_eq!(finding, Some(Severity::Look));
    assert_eq!(every("policy = \"timer\"\ndose_s = 30\nevery_h = 0.88"), None);
}

/// A twin with the same emitters gets the probed pot's 0.6 L a day, and what the sun takes from that pot:
/// Kc max is 1.1 (FAO-56 eq. 72), so Ke at most 0.1 (eq. 71), 0.03 L from 0.05 m². In seven days the twin
/// misses 4.2·s − 4.41 L at a share s of evaporation; its soil gives p·4 L with p = 0.3 + 0.04·(5 − 6·s)
/// (Table 22, note 2): short of water from s = 1.242. It is told from a tenth short of the 0.6 L, s =
/// 1.11; and of too much from 15 % leached (UF/IFAS ENH1268), s = 0.85.
#[test]
fn a_twin_in_another_light() {
    let share = |share: f64| {
        let twin = format!(
            "limit_24h_s = 3600\n[[neighbour]]\nname = \"twin\"\nvolume_l = 10\ncanopy_m2 = 0.1\n\
             emitters = 2\nevaporation_share = {share}"
        );
        severity(&[("limit_24h_s = 3600", &twin)], Kind::NeighbourShare)
    };
    assert_eq!(share(1.25), Some(Severity::Refuted));
    assert_eq!(share(1.23), Some(Severity::Look));
    assert_eq!(share(1.12), Some(Severity::Look));
    assert_eq!(share(1.10), None);
    assert_eq!(share(0.86), None);
    assert_eq!(share(0.84), Some(Severity::Look));
}

/// A twin with twice the emitters gets 1.2 L a day of the probed pot's 0.6 L, takes 0.6 L itself, and the
/// sun 0.03 L (as above). The probed pot lives on its own first: from 55 % to where its plants run short,
/// 60 − p·40 with p = 0.3 − 0.04·(6·1.0 − 5) = 0.26, 49.6 %, which are 0.54 L, and so the twin misses
/// 1.08 L. In d days 0.57·d − 1.08 L are over. Soil up to 80 % and saucer hold 3.5 L, and half a litre on
/// the floor is nothing to speak of: too much from 8.9 days on.
#[test]
fn a_twin_with_too_many_emitters_floods_the_floor() {
    let twin = |days: &str, saucer: &str| {
        let twin = "limit_24h_s = 7200\n[[neighbour]]\nname = \"twin\"\nvolume_l = 10\n\
                    canopy_m2 = 0.1\nemitters = 4";
        let changes =
            [("limit_24h_s = 3600", twin), ("days = 7", days), ("saucer_l = 1\n", saucer)];
        severity(&changes, Kind::NeighbourShare)
    };
    assert_eq!(twin("days = 9", "saucer_l = 1\n"), Some(Severity::Refuted));
    assert_eq!(twin("days = 8", "saucer_l = 1\n"), Some(Severity::Look));
    // Without a saucer what drains is gone.
    assert_eq!(twin("days = 9", "saucer_l = 0\n"), Some(Severity::Look));
}
