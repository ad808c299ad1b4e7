//! `drydown watch` from outside, on a device that `drydown run --serve` simulates and on lines on
//! which nothing good happens. All devices are invented.

mod from_outside;

use std::io::{BufRead, BufReader, Read, Write};
use std::net::{TcpListener, TcpStream};
use std::path::Path;
use std::process::{Child, Output, Stdio};
use std::sync::atomic::{AtomicU32, Ordering};
use std::time::{Duration, Instant};

use drydown::air::AirFault;
use drydown::bench::{Check, Findings};
use drydown::guard::{Condition, Conditions};
use drydown::logbook::Entry;
use drydown::manifold::Need;
use drydown::persist::ZoneIndex;
use drydown::policy::Waits;
use drydown::probe::pair::PairAlarm;
use drydown::probe::{ProbeFault, Reading};
use drydown::quantity::{DeciCelsius, Millis, RawCounts};
use drydown::well::{OfBoard, Signs};
use drydown::wire::{
    Answer, Felt, Head, Identity, MOST_BYTES, MOST_FRAME, Page, RawBurst, Receiver, Reply, Report,
    Request, decode, encode,
};
use drydown::zone::{BootCause, Event, Mode, Order};
use drydown_sim::bench_record::told;
use from_outside::{Folder, changed, drydown, drydown_in, program, stderr, stdout};
use serde_json::Value;

/// A simulated device, and where it listens.
struct Served(Child, String);

impl Served {
    /// A scenario at so many times real time.
    fn new(scenario: &str, speed: &str) -> Self {
        let mut child = program(Path::new("."))
            .args(["run", scenario, "--serve", "tcp:127.0.0.1:0", "--speed", speed])
            .stderr(Stdio::piped())
            .stdout(Stdio::null())
            .spawn()
            .expect("the program starts");
        let mut line = String::new();
        let mut said = BufReader::new(child.stderr.take().expect("piped"));
        said.read_line(&mut line).expect("it says where");
        let place = line.trim().rsplit(' ').next().expect("an address").to_owned();
        assert!(place.starts_with("tcp:127.0.0.1:"), "{line}");
        Self(child, place)
    }

    fn watch(&self, args: &[&str]) -> Output {
        drydown(&[&["watch", &self.1], args].concat())
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

#[test]
fn a_look_says_how_the_device_does() {
    let device = Served::new("dry-week", "1000");
    report_of(&device);
    let output = device.watch(&["--once"]);
    assert!(output.status.success(), "{}", stderr(&output));
    let text = stdout(&output);
    for part in [
        "simulated device, drydown",
        "% by volume",
        "waters from 51.0 up to 55.0",
        "automatic",
        " old",
        "all well",
    ] {
        assert!(text.contains(part), "no `{part}` in\n{text}");
    }
    let output = device.watch(&["--for", "1", "--every", "0.3", "--format", "json"]);
    let lines: Vec<Value> = stdout(&output)
        .lines()
        .map(|line| serde_json::from_str(line).expect("an object a line"))
        .collect();
    assert!(lines.len() >= 3, "{lines:?}");
    let clocks: Vec<f64> = lines.iter().map(|line| line["clock_s"].as_f64().unwrap()).collect();
    assert!(clocks.windows(2).all(|pair| pair[0] < pair[1]), "{clocks:?}");
    assert_eq!(lines[0]["settings"]["start_pct"], 51.0);
    assert_eq!(lines[0]["basis"], "volumetric");
    assert_eq!(lines[0]["limit_24h"]["limit_s"], 3_600.0);
    assert_eq!((&lines[0]["well"], &lines[0]["record_lost"]), (&"All well".into(), &false.into()));
    assert!(lines[0]["waits"].is_string() && lines[0]["air"]["temperature_c"].is_f64());
}

/// The served device's own report, once its probe was read.
fn report_of(device: &Served) -> Report {
    let mut stream = TcpStream::connect(device.1.trim_start_matches("tcp:")).unwrap();
    let (mut out, mut byte) = ([0; MOST_BYTES], [0]);
    let head = Head { zone: ZoneIndex::FIRST, tag: 5 };
    let mut receiver = Receiver::<MOST_FRAME>::new();
    let begun = Instant::now();
    while begun.elapsed() < Duration::from_secs(20) {
        stream.write_all(encode(head, &Request::Look, &mut out)).unwrap();
        let reply = loop {
            stream.read_exact(&mut byte).unwrap();
            if let Some(Ok(frame)) = receiver.push(byte[0]) {
                break decode(frame);
            }
        };
        let Ok((_, Reply::Report(report))) = reply else { panic!("no report") };
        if report.reading.is_some() {
            return report;
        }
    }
    panic!("its probe is never read")
}

/// The same at ease: moist, and nothing in the way.
fn at_ease(device: &Served) -> Report {
    let own = report_of(device);
    Report {
        need: Need::Nothing,
        under_way: None,
        hindrance: None,
        hindrance_afar: None,
        refusal: None,
        waits: Waits::Level { agreeing: 0, agree: 3, soak: Millis::ZERO },
        signs: Signs { conditions: Conditions::NONE, ..own.signs },
        ..own
    }
}

/// A device that reports this is told of in these words, and the program ends so.
fn is_said(device: &Served, report: Report, code: i32, parts: &[&str]) {
    let place = instead(device, move |request| {
        matches!(request, Request::Look).then_some(Reply::Report(report))
    });
    let output = drydown(&["watch", &place, "--once"]);
    assert_eq!(output.status.code(), Some(code), "{}{}", stdout(&output), stderr(&output));
    for part in parts {
        assert!(stdout(&output).contains(part), "no `{part}` in\n{}", stdout(&output));
    }
    let output = drydown(&["watch", &place, "--once", "--format", "json"]);
    let json: Value = serde_json::from_str(stdout(&output).trim()).expect("an object");
    assert_eq!(json["well"] == "All well", code == 0, "{json}");
}

#[test]
fn why_a_device_waits_is_said() {
    let device = Served::new("dry-week", "1000");
    let own = at_ease(&device);
    let level = |agreeing, soak| Waits::Level { agreeing, agree: 3, soak: Millis(soak) };
    is_said(&device, own, 0, &["moist enough", "all well"]);
    let dry = Report { waits: level(2, 0), ..own };
    is_said(&device, dry, 0, &["dry: 2 of 3 readings agree, then it waters"]);
    let soaks = Report { waits: level(0, 90_000), ..own };
    let parts = ["waits for the last water to soak in", "soaks for 1 min 30 s still"];
    is_said(&device, soaks, 0, &parts);
    let left = Some(Millis(42_000));
    let held = Report { hindrance: Some((Condition::HoldOff, left)), ..own };
    let parts = ["does not water: just started, holding off; wait", "no water for 42 s still"];
    is_said(&device, held, 0, &parts);
    let conditions = Conditions::NONE.with(Condition::Rain).with(Condition::TankEmpty);
    let empty = Report {
        signs: Signs { conditions, ..own.signs },
        hindrance: Some((Condition::TankEmpty, None)),
        hindrance_afar: Some(Condition::TankEmpty),
        ..own
    };
    let parts = [
        "does not water: the tank is empty; fill the tank",
        "also in the way now: it rains",
        "NEEDS YOU",
    ];
    is_said(&device, empty, 1, &parts);
}

/// And the program ends with 1 where the display would call somebody.
#[test]
fn what_is_wrong_with_a_device_is_said_and_calls_as_on_the_display() {
    let device = Served::new("dry-week", "1000");
    let own = at_ease(&device);
    let signs = own.signs;
    let lost = Report { signs: Signs { record_assumed: true, ..signs }, ..own };
    is_said(&device, lost, 1, &["RECORD LOST: no record was found", "NEEDS YOU"]);
    let reading = own.reading.expect("it reads");
    let silent = Reading { fault: Some(ProbeFault::Stale), ..reading };
    let pair = Some(PairAlarm::SecondFailed(ProbeFault::Stale));
    let two = Report {
        probes: Some([Some(reading), Some(silent)]),
        signs: Signs { pair, ..signs },
        ..own
    };
    let parts = [
        "first probe ",
        "second probe ",
        "not believed: no recent reading of the probe",
        "PROBES: the second has failed",
        "LOOK SOON",
    ];
    is_said(&device, two, 1, &parts);
    let frost = Report {
        air: Some(Felt { temperature: DeciCelsius(-15), humidity: Some(873) }),
        signs: Signs { conditions: Conditions::NONE.with(Condition::Frozen), ..signs },
        hindrance: Some((Condition::Frozen, None)),
        ..own
    };
    let parts =
        ["air -1.5 °C, 87.3 % relative humidity", "does not water: frost; wait for the thaw"];
    is_said(&device, frost, 0, &parts);
    let board = OfBoard { no_brown_out_reset: true, kept_refused: true, bus_left_alone: true };
    let air = Some(AirFault::Still);
    let worn = Report { air: None, signs: Signs { air, board, ..signs }, ..own };
    let parts = [
        "AIR: not believed: the air sensor does not move at all",
        "does not reset itself when its supply sags",
        "settings or a curve that are kept are refused",
        "display and air sensor are left alone",
        "LOOK SOON",
    ];
    is_said(&device, worn, 1, &parts);
}

/// Done would not be all of it.
#[test]
fn an_acknowledgement_that_left_something_says_so() {
    let device = Served::new("dry-week", "1000");
    let place = instead(&device, |request| {
        let acknowledges = matches!(request, Request::Order(Order::Acknowledge));
        acknowledges.then_some(Reply::Answer(Answer::StillBlocked(Condition::ProbeImplausible)))
    });
    let output = drydown(&["watch", &place, "--do", "acknowledge"]);
    let said = "acknowledged; still in the way: the probe shows what soil cannot do; put the probe back \
        firmly, then acknowledge at the device";
    assert!(stdout(&output).contains(said), "{}", stdout(&output));
}

#[test]
fn it_takes_over_and_hands_back() {
    let device = Served::new("dry-week", "60");
    let output = device.watch(&["--every", "0.2", "--do", "water 20"]);
    assert!(output.status.success(), "{}{}", stdout(&output), stderr(&output));
    let text = stdout(&output);
    for part in
        ["watering: by hand from afar", "closed: dose done; open for 20.0 s", "1 watering of 20 s"]
    {
        assert!(text.contains(part), "no `{part}` in\n{text}");
    }
    // The report says the same, and automatic has it again.
    let output = device.watch(&["--once", "--format", "json"]);
    let report: Value = serde_json::from_str(stdout(&output).trim()).unwrap();
    assert_eq!((&report["mode"], &report["given_s"]), (&"automatic".into(), &20.0.into()));
    // Switched off, it says why not; a refusal ends with 1.
    let output = device.watch(&["--do", "off", "--do", "water 5"]);
    assert_eq!(output.status.code(), Some(1));
    assert!(stdout(&output).contains("order refused: switched off"), "{}", stdout(&output));
    assert!(device.watch(&["--do", "automatic"]).status.success());
}

#[test]
fn settings_change_within_their_bounds() {
    let device = Served::new("dry-week", "60");
    let output = device.watch(&["--do", "set start 50"]);
    assert!(output.status.success(), "{}", stdout(&output));
    let output = device.watch(&["--once"]);
    assert!(stdout(&output).contains("waters from 50.0 up to 55.0"), "{}", stdout(&output));
    let output = device.watch(&["--do", "set stop 40"]);
    assert_eq!(output.status.code(), Some(1));
    assert!(
        stdout(&output).contains("refused: stop is 40 %, must be at least 50.01 %: watering goes"),
        "{}",
        stdout(&output)
    );
    assert!(stdout(&device.watch(&["--once"])).contains("waters from 50.0 up to 55.0"));
}

/// Settings outlast a reset of the device, and so does its log.
#[test]
fn what_was_changed_and_kept_outlasts_a_reset() {
    let folder = Folder::new("watch-reset");
    let scenario = folder.write(
        "reset.toml",
        &format!("{}\n[[fault]]\nkind = \"power-cut\"\nat_h = 6\nfor_h = 1\n", changed("", "")),
    );
    let probe = drydown(&["run", &scenario, "--days", "0.01"]);
    assert_ne!(probe.status.code(), Some(2), "the scenario: {}", stderr(&probe));
    let device = Served::new(&scenario, "5000");
    assert!(device.watch(&["--do", "set start 50"]).status.success());
    let until = Instant::now() + Duration::from_secs(60);
    let report = loop {
        let output = device.watch(&["--once", "--format", "json"]);
        if let Ok(report) = serde_json::from_str::<Value>(stdout(&output).trim())
            && report["boot"] == 2
        {
            break report;
        }
        assert!(Instant::now() < until, "no second boot");
    };
    assert_eq!(report["settings"]["start_pct"], 50.0);
    let path = folder.0.join("log.csv");
    let output = device.watch(&["--log", path.to_str().unwrap()]);
    assert_ne!(output.status.code(), Some(2), "{}", stderr(&output));
    let text = std::fs::read_to_string(&path).unwrap();
    let boots: Vec<&str> =
        text.lines().skip(1).map(|line| line.split(',').nth(1).unwrap()).collect();
    // Six hours before the cut: 36 rows and the first.
    assert!(boots.iter().filter(|boot| **boot == "1").count() >= 36, "{boots:?}");
    assert!(boots.contains(&"2") && boots.is_sorted());
}

fn rows(path: &Path) -> Vec<Vec<String>> {
    let mut reader = csv::Reader::from_path(path).expect("a table");
    assert_eq!(
        reader.headers().unwrap().iter().collect::<Vec<_>>(),
        [
            "time_s",
            "boot",
            "raw",
            "reading_pct",
            "verdict",
            "drive",
            "reason",
            "air_c",
            "dose_s",
            "mode"
        ]
    );
    let records = reader.records().map(|record| record.expect("a regular row"));
    records.map(|record| record.iter().map(str::to_owned).collect()).collect()
}

#[test]
fn the_kept_log_is_pulled_into_tables() {
    let folder = Folder::new("watch-log");
    let device = Served::new("dry-week", "100000");
    // A week takes six seconds; three days of it are enough.
    std::thread::sleep(Duration::from_secs(3));
    let (log, days) = (folder.0.join("log.csv"), folder.0.join("days.csv"));
    let output = device.watch(&["--log", log.to_str().unwrap(), "--days", days.to_str().unwrap()]);
    assert_ne!(output.status.code(), Some(2), "{}", stderr(&output));
    let rows = rows(&log);
    assert!(rows.len() > 2 * 144, "{} rows", rows.len());
    let number = |row: &Vec<String>, at: usize| row[at].parse::<f64>().unwrap_or_default();
    assert!(rows.windows(2).all(|pair| number(&pair[0], 0) <= number(&pair[1], 0)));
    let read = rows.iter().filter(|row| row[4] == "plausible").count();
    assert!(read * 10 > rows.len() * 9, "{read} of {}", rows.len());
    // The dry week waters: what ended it and what it gave stand in one row.
    let closed: Vec<_> = rows.iter().filter(|row| row[6].starts_with("closed: ")).collect();
    assert!(!closed.is_empty());
    assert!(closed.iter().all(|row| number(row, 8) > 0.0), "{closed:?}");
    let text = std::fs::read_to_string(&days).unwrap();
    assert!(text.starts_with("day,time_s,boot,lowest_pct,mean_pct,highest_pct,"), "{text}");
    assert!(text.lines().count() > 2, "{text}");
    // A file that is there may hold what the device no longer keeps.
    let before = std::fs::read(&log).unwrap();
    let output = device.watch(&["--log", log.to_str().unwrap()]);
    assert_eq!(output.status.code(), Some(2));
    assert!(stderr(&output).contains("exists already"), "{}", stderr(&output));
    assert_eq!(std::fs::read(&log).unwrap(), before);
}

#[test]
fn raw_counts_are_recorded_for_the_calibration() {
    let folder = Folder::new("watch-readings");
    let device = Served::new("dry-week", "100");
    let path = folder.0.join("bench.csv");
    let file = path.to_str().unwrap();
    let record = |args: &[&str]| device.watch(&[&["--readings", file], args].concat());
    let output = record(&["--point", "air", "--bursts", "2", "--probe", "A1"]);
    assert!(output.status.success(), "{}", stderr(&output));
    let soil = ["--point", "soil", "--water-pct", "21.5", "--bursts", "1", "--substrate", "peat"];
    assert!(record(&soil).status.success());
    let text = std::fs::read_to_string(&path).unwrap();
    let lines: Vec<Vec<&str>> = text.lines().map(|line| line.split(',').collect()).collect();
    assert_eq!(
        lines[0],
        ["point", "raw", "water_pct", "t_c", "probe", "substrate", "date", "burst"]
    );
    for line in &lines[1..] {
        let burst: Vec<u16> = line[7].split(' ').map(|count| count.parse().unwrap()).collect();
        let mut sorted = burst.clone();
        sorted.sort_unstable();
        let raw = line[1].parse::<u16>().unwrap();
        assert!(burst.len() == 8 && (sorted[3]..=sorted[4]).contains(&raw), "{line:?}");
    }
    assert_eq!(lines.len(), 4, "{text}");
    assert_eq!((lines[1][0], lines[1][4]), ("air", "A1"));
    assert_eq!((lines[3][0], lines[3][2], lines[3][5]), ("", "21.5", "peat"));
    assert!(lines[1..].iter().all(|line| line[1].parse::<u16>().is_ok_and(|raw| raw > 800)));
    // Nothing is read, and nothing added, where the table could not say what it is.
    let wrong: [&[&str]; 5] = [
        &["--point", "soil"],
        &["--point", "air", "--water-pct", "3"],
        &["--point", "soil", "--water-pct", "101"],
        &["--point", "air", "--bursts", "0"],
        &["--point", "air", "--probe", "A,1"],
    ];
    for args in wrong {
        assert_eq!(record(args).status.code(), Some(2), "{args:?}");
    }
    assert_eq!(std::fs::read_to_string(&path).unwrap(), text);
    let other = folder.write("other.csv", "raw,water\n1,2\n");
    let output = device.watch(&["--readings", &other, "--point", "air"]);
    assert_eq!(output.status.code(), Some(2), "{}", stderr(&output));
}

/// A table that was begun before bursts were kept goes on as it is.
#[test]
fn an_old_table_of_readings_goes_on() {
    let folder = Folder::new("watch-old-readings");
    let device = Served::new("dry-week", "100");
    let old = "point,raw,water_pct,t_c,probe,substrate,date\nair,2903,,,,,2026-05-02\n";
    let file = folder.write("bench.csv", old);
    let args = ["--readings", &file, "--point", "air", "--bursts", "1"];
    let output = device.watch(&args);
    assert!(output.status.success(), "{}", stderr(&output));
    let text = std::fs::read_to_string(&file).unwrap();
    let added = text.strip_prefix(old).expect("what was there stays");
    assert_eq!((added.lines().count(), added.split(',').count()), (1, 7), "{added}");
}

/// Counts of an invented probe, each burst two counts wide.
fn burst_around(raw: u16) -> RawBurst {
    let counts = [0, 1, 0, 1, 2, 1, 0, 2].map(|more| RawCounts(raw + more));
    RawBurst::new(&counts, None).expect("eight counts")
}

#[test]
fn what_is_recorded_at_the_bench_becomes_a_calibration() {
    let folder = Folder::new("watch-calibrate");
    let device = Served::new("dry-week", "100");
    let points: [(u16, &[&str]); 4] = [
        (2_903, &["--point", "air"]),
        (1_148, &["--point", "water"]),
        (2_300, &["--point", "soil", "--water-pct", "15"]),
        (1_700, &["--point", "drained", "--water-pct", "45"]),
    ];
    for (raw, point) in points {
        let place = instead(&device, move |request| {
            matches!(request, Request::Probe { .. }).then_some(Reply::Burst(burst_around(raw)))
        });
        let args = [&["watch", &place, "--readings", "bench.csv", "--bursts", "2"], point].concat();
        let output = drydown_in(&folder.0, &args);
        assert!(output.status.success(), "{}", stderr(&output));
    }
    let calibrate = ["calibrate", "bench.csv", "--wetter", "falls", "--format", "json"];
    let output = drydown_in(&folder.0, &calibrate);
    assert!(output.status.success(), "{}", stderr(&output));
    let made: Value = serde_json::from_str(&stdout(&output)).expect("a calibration");
    let raws: Vec<f64> = made["points"]
        .as_array()
        .unwrap()
        .iter()
        .map(|point| point["raw"].as_f64().unwrap())
        .collect();
    // The median of each burst is one above its least.
    assert_eq!(raws, [2_301.0, 1_701.0]);
    // Squares around the mean of 0 0 0 1 1 1 2 2 are 4.875, over seven: 0.83.
    let noise = "one conversion scatters by 0.8 counts (standard deviation in 8 bursts)";
    assert!(made["remarks"].as_array().unwrap().contains(&noise.into()), "{}", made["remarks"]);
}

#[test]
fn typed_lines_are_followed_and_wrong_ones_named() {
    let device = Served::new("dry-week", "60");
    let mut child = program(Path::new("."))
        .args(["watch", &device.1, "--every", "0.2"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("the program starts");
    let mut typed = child.stdin.take().unwrap();
    typed.write_all(b"help\nopen wide\nset start 49\nwater 600\nstop\nlook\nquit\n").unwrap();
    let output = child.wait_with_output().unwrap();
    let text = stdout(&output);
    for part in
        ["acknowledge", "order is `open wide`, it is not known", "waters from 49.0 up to 55.0"]
    {
        assert!(text.contains(part), "no `{part}` in\n{text}");
    }
    assert!(output.status.success(), "{text}");
}

/// A line on which somebody does something once to each who comes.
fn line(acts: impl Fn(TcpStream) + Send + 'static) -> String {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let place = format!("tcp:{}", listener.local_addr().unwrap());
    std::thread::spawn(move || {
        for stream in listener.incoming().map_while(Result::ok) {
            acts(stream);
        }
    });
    place
}

/// Ends with 2 and these words, within ten seconds.
fn is_told(place: &str, words: &str) {
    let began = Instant::now();
    let output = drydown(&["watch", place, "--once"]);
    assert_eq!(output.status.code(), Some(2), "{}{}", stdout(&output), stderr(&output));
    assert!(stderr(&output).contains(words), "no `{words}` in {}", stderr(&output));
    assert!(began.elapsed() < Duration::from_secs(20), "{:?}", began.elapsed());
}

#[test]
fn a_line_on_which_nothing_good_comes_is_told_and_never_hangs() {
    let silent = line(|stream| {
        std::thread::spawn(move || {
            std::thread::sleep(Duration::from_secs(30));
            drop(stream);
        });
    });
    is_told(&silent, "does not reply within 4 s");
    is_told(&line(drop), "ended the connection");
    let babble = line(|mut stream| {
        std::thread::spawn(move || {
            let noise: Vec<u8> = (0..2_000_u32).map(|n| (n * n / 7) as u8).collect();
            while stream.write_all(&noise).is_ok() {}
        });
    });
    is_told(&babble, "damaged frames");
    // An empty message of version 9: head, and CRC-32 as Python's zlib.crc32 gives it.
    let later = line(|mut stream| {
        let frame = [9, 0x41, 0, 1, 2, 3, 4];
        let check = crc32(&frame);
        let whole = [frame.as_slice(), &check.to_le_bytes()].concat();
        let mut stuffed = vec![0, 0];
        stuffed.extend(&whole);
        assert!(drydown::wire::cobs::stuff(&mut stuffed[1..]));
        stuffed.push(0);
        let _ = stream.write_all(&stuffed);
        let mut byte = [0];
        while stream.read(&mut byte).is_ok_and(|count| count > 0) {}
    });
    is_told(&later, "speaks version 9");
    let nobody = {
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        format!("tcp:{}", listener.local_addr().unwrap())
    };
    is_told(&nobody, "cannot be reached");
    is_told("serial:/dev/no-such-line", "cannot be reached");
}

/// The served device, but for what this answers in its place.
fn instead(
    device: &Served,
    answers: impl Fn(&Request) -> Option<Reply<'static>> + Send + 'static,
) -> String {
    let served = device.1.trim_start_matches("tcp:").to_owned();
    line(move |mut stream| {
        let Ok(mut to_device) = TcpStream::connect(&served) else { return };
        let mut from_device = to_device.try_clone().unwrap();
        let mut to_caller = stream.try_clone().unwrap();
        std::thread::spawn(move || std::io::copy(&mut from_device, &mut to_caller));
        let mut receiver = Receiver::<{ Request::MOST_FRAME }>::new();
        let mut byte = [0];
        while stream.read(&mut byte).is_ok_and(|count| count > 0) {
            let Some(Ok(frame)) = receiver.push(byte[0]) else { continue };
            let (head, request) = decode::<Request>(frame).expect("a whole request");
            let mut out = [0; MOST_BYTES];
            let sent = match answers(&request) {
                Some(reply) => stream.write_all(encode(head, &reply, &mut out)),
                None => to_device.write_all(encode(head, &request, &mut out)),
            };
            sent.unwrap();
        }
        let _ = to_device.shutdown(std::net::Shutdown::Both);
    })
}

/// A device that has found this at the bench and is the served one in all else.
fn commissioned(device: &Served, findings: Findings) -> String {
    instead(device, move |request| {
        matches!(request, Request::Findings).then_some(Reply::Findings(findings))
    })
}

/// A device that keeps no log counts no starts: that it was reset shows by its clock, and all that it still
/// knows is told, then and when somebody begins to look on.
#[test]
fn a_device_that_counts_no_starts_is_watched_over_its_reset() {
    let device = Served::new("dry-week", "5000");
    let at_ease = at_ease(&device);
    let entry = |event| Entry { at_s: 0, event };
    let before =
        [Event::Booted(BootCause::PowerOn), Event::Mode(Mode::Off), Event::Woke].map(entry);
    let after = [Event::Booted(BootCause::Watchdog), Event::Acknowledged].map(entry);
    let pages: [&'static [u8]; 2] = [before.as_slice(), after.as_slice()]
        .map(|lines| &*lines.iter().flat_map(Entry::to_bytes).collect::<Vec<_>>().leak());
    let looks = AtomicU32::new(0);
    let place = instead(&device, move |request| {
        let reset = looks.load(Ordering::Relaxed) > 3;
        match request {
            Request::Who => Some(Reply::Identity(Identity {
                board: "no log",
                firmware: "invented",
                config: 1,
                zones: 1,
                boot: 0,
            })),
            Request::Look => {
                let looked = looks.fetch_add(1, Ordering::Relaxed);
                let now = if looked < 3 { 9_000_000 } else { 1_000 } + u64::from(looked);
                Some(Reply::Report(Report { now, boot: 0, ..at_ease }))
            }
            Request::Edges { from } => {
                let lines = pages[usize::from(reset)];
                let end = (lines.len() / Entry::LENGTH) as u32;
                let first = *from.min(&end);
                let shown = &lines[first as usize * Entry::LENGTH..];
                Some(Reply::Edges(Page::new(first, end, shown)))
            }
            _ => None,
        }
    });
    let output = drydown(&["watch", &place, "--every", "0.2", "--for", "2"]);
    assert_ne!(output.status.code(), Some(2), "{}", stderr(&output));
    let text = stdout(&output);
    assert!(text.contains("no start counted yet"), "{text}");
    let told: Vec<&str> = before
        .iter()
        .chain(&after)
        .map(|entry| entry.event.text())
        .filter(|words| text.matches(words).count() == 1)
        .collect();
    assert_eq!(told.len(), 5, "{told:?} of {text}");
    assert!(!text.contains("went by unseen"), "{text}");
}

/// A device gives nothing of its log while water may run: it is asked again until a dose is over.
#[test]
fn a_log_that_comes_later_is_waited_for() {
    let folder = Folder::new("watch-later");
    let device = Served::new("dry-week", "100000");
    std::thread::sleep(Duration::from_secs(1));
    let asked = AtomicU32::new(0);
    let place = instead(&device, move |request| {
        let waters =
            matches!(request, Request::Rows { .. }) && asked.fetch_add(1, Ordering::Relaxed) < 2;
        waters.then_some(Reply::Answer(Answer::NotNow))
    });
    let log = folder.0.join("log.csv");
    let began = Instant::now();
    let output = drydown(&["watch", &place, "--log", log.to_str().unwrap()]);
    assert_ne!(output.status.code(), Some(2), "{}", stderr(&output));
    assert!(began.elapsed() > Duration::from_secs(3), "{:?}", began.elapsed());
    assert!(rows(&log).len() > 100);
}

/// A device's own log, made by the library and pulled over the line, is what the other commands read, and
/// they find in it what the run gave.
#[test]
fn a_pulled_log_feeds_the_other_commands() {
    let folder = Folder::new("watch-feeds");
    let device = Served::new("dry-week", "50000");
    let until = Instant::now() + Duration::from_secs(60);
    loop {
        let output = device.watch(&["--once", "--format", "json"]);
        let report: Value = serde_json::from_str(stdout(&output).trim()).expect("a report");
        if report["clock_s"].as_f64().unwrap() > 5.2 * 86_400.0 {
            break;
        }
        assert!(Instant::now() < until, "it does not live five days");
    }
    let (log, days) = (folder.0.join("log.csv"), folder.0.join("days.csv"));
    let output = device.watch(&["--log", log.to_str().unwrap(), "--days", days.to_str().unwrap()]);
    assert_ne!(output.status.code(), Some(2), "{}", stderr(&output));
    let ends_s = rows(&log).last().unwrap()[0].parse::<f64>().unwrap();

    // What the same run gave until then, as the simulator has it.
    let output = drydown(&["run", "dry-week", "--format", "json"]);
    let run: Value = serde_json::from_str(&stdout(&output)).expect("a report");
    let number = |one: &Value, name: &str| one[name].as_f64().unwrap();
    let given: Vec<&Value> = run["waterings"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|one| number(one, "at_h") * 3_600.0 + number(one, "open_s") <= ends_s)
        .collect();
    assert!(given.len() > 5, "{given:?}");
    let open_s: f64 = given.iter().map(|one| number(one, "open_s")).sum();
    let litres: f64 = given.iter().map(|one| number(one, "litres")).sum();

    let read = |args: &[&str]| {
        let output = drydown_in(&folder.0, args);
        assert_eq!(
            output.status.code(),
            Some(0),
            "{args:?}: {}{}",
            stdout(&output),
            stderr(&output)
        );
        serde_json::from_str::<Value>(&stdout(&output)).expect("an object")
    };
    // One that runs as the log ends has a share in it.
    let fit = read(&["fit", "log.csv", "--format", "json"]);
    let told_s = fit["watered"]["open_s"].as_f64().unwrap();
    assert!((open_s - 1.0..=open_s + 1_800.0).contains(&told_s), "{told_s} of {open_s}");
    let times = fit["watered"]["times"].as_u64().unwrap() as usize;
    assert!((given.len()..=given.len() + 1).contains(&times), "{times} of {}", given.len());
    read(&["explain", "log.csv", "--scenario", "dry-week", "--format", "json"]);
    let leave = drydown_in(
        &folder.0,
        &[
            "leave",
            "dry-week",
            "--weathers",
            "1",
            "--days",
            "7",
            "--on",
            "2026-07-06",
            "--log",
            "log.csv",
            "--format",
            "json",
        ],
    );
    assert_ne!(leave.status.code(), Some(2), "{}", stderr(&leave));
    let leave: Value = serde_json::from_str(&stdout(&leave)).expect("an object");
    assert_eq!(leave["log"]["waterings"], times);
    assert_eq!(leave["log"]["mode"], "automatic");
    // At the flow of a full tank, which the run's own litres lie a little below.
    let given_l_d = leave["log"]["given_l_d"].as_f64().unwrap();
    let run_l_d = litres / (ends_s / 86_400.0);
    assert!((run_l_d..1.2 * run_l_d).contains(&given_l_d), "{given_l_d} and {run_l_d}");

    // The lines of days tell the same of their days, and are no log of rows.
    let mut lines = csv::Reader::from_path(&days).expect("a table");
    let doses: f64 = lines.records().map(|line| line.unwrap()[9].parse::<f64>().unwrap()).sum();
    assert!(doses > 0.7 * open_s && doses <= told_s + 1.0, "{doses} of {told_s}");
    let output = drydown_in(&folder.0, &["explain", "days.csv"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(stderr(&output).contains("is the table of days"), "{}", stderr(&output));
}

#[test]
fn one_file_cannot_hold_two_tables() {
    let folder = Folder::new("watch-one-file");
    let nobody = ["watch", "tcp:127.0.0.1:1"];
    let pairs: [&[&str]; 3] = [
        &["--log", "x.csv", "--days", "x.csv"],
        &["--days", "./x.csv", "--bench", "x.csv"],
        &["--log", "x.csv", "--readings", "x.csv", "--point", "air"],
    ];
    for pair in pairs {
        let output = drydown_in(&folder.0, &[&nobody[..], pair].concat());
        assert_eq!(output.status.code(), Some(2), "{pair:?}");
        assert!(stderr(&output).contains("must be another file"), "{pair:?}: {}", stderr(&output));
        assert_eq!(folder.names(), Vec::<String>::new());
    }
}

/// A device that answers and gives nothing of its log leaves no table behind.
#[test]
fn of_a_log_that_never_comes_no_file_is_left() {
    let folder = Folder::new("watch-no-log");
    let device = Served::new("dry-week", "100");
    let place = instead(&device, |request| {
        let log = matches!(request, Request::Rows { .. } | Request::Days { .. });
        log.then_some(Reply::Answer(Answer::NOT_UNDERSTOOD))
    });
    for option in ["--log", "--days"] {
        let output = drydown_in(&folder.0, &["watch", &place, option, "kept.csv"]);
        assert_eq!(output.status.code(), Some(2), "{}", stdout(&output));
        assert_eq!(folder.names(), Vec::<String>::new(), "{option}");
    }
}

/// The bytes stand in the corpus of the fuzzer, behind the number of their kind.
const RECORD: &[u8; 58] = include_bytes!("../../tests/corpus/wire/message-findings");

#[test]
fn what_the_bench_found_becomes_a_table_that_a_scenario_takes() {
    let folder = Folder::new("watch-bench");
    let device = Served::new("dry-week", "100");
    let output = drydown_in(&folder.0, &["watch", &device.1, "--bench", "bench.toml"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(
        stderr(&output).contains("none of its checks at the bench was made"),
        "{}",
        stderr(&output)
    );
    assert_eq!(folder.names(), Vec::<String>::new());

    let findings = Findings::from_bytes(RECORD.last_chunk().unwrap()).expect("a record");
    let place = commissioned(&device, findings);
    let watch = |file| drydown_in(&folder.0, &["watch", &place, "--bench", file]);
    let output = watch("bench.toml");
    assert_eq!(output.status.code(), Some(1), "one failed: {}", stderr(&output));
    let counts = "checks at the bench: 3 passed, 1 failed, 1 left out, 4 not made; in bench.toml";
    assert!(stdout(&output).contains(counts), "{}", stdout(&output));
    let table = std::fs::read_to_string(folder.0.join("bench.toml")).expect("the table");
    for said in ["configuration 364731a6", "#   Power off, no water: passed, 301 s\n"] {
        assert!(table.contains(said), "{table}");
    }
    // A scenario takes it as it is, and its build sheet tells the same.
    folder.write("own.toml", &format!("{}\n{table}", changed("", "")));
    let output = drydown_in(&folder.0, &["sheet", "export", "own.toml", "--out", "sheet.toml"]);
    assert!(output.status.success(), "{}", stderr(&output));
    let sheet = std::fs::read_to_string(folder.0.join("sheet.toml")).expect("the sheet");
    for check in Check::ALL {
        let told = told(&findings, check);
        assert!(sheet.contains(&told) && table.contains(&told), "{told}");
    }
    assert_eq!(watch("bench.toml").status.code(), Some(2), "it may be somebody's only copy");
}

fn crc32(bytes: &[u8]) -> u32 {
    let mut crc = u32::MAX;
    for &byte in bytes {
        crc ^= u32::from(byte);
        for _ in 0..8 {
            crc = (crc >> 1) ^ if crc & 1 == 1 { 0xEDB8_8320 } else { 0 };
        }
    }
    !crc
}

#[test]
fn a_device_that_is_unplugged_in_mid_watch_is_told() {
    let mut device = Served::new("dry-week", "60");
    let child = program(Path::new("."))
        .args(["watch", &device.1, "--every", "0.2", "--for", "60"])
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program starts");
    std::thread::sleep(Duration::from_millis(700));
    device.0.kill().unwrap();
    let began = Instant::now();
    let output = child.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(2), "{}", stdout(&output));
    assert!(stderr(&output).contains("ended the connection"), "{}", stderr(&output));
    assert!(began.elapsed() < Duration::from_secs(20));
}

#[test]
fn bad_options_are_named() {
    let wrong: [(&[&str], &str); 9] = [
        (&["watch", "localhost"], "must be tcp:HOST:PORT or serial:PATH[@BAUD]"),
        (&["watch", "tcp:localhost"], "must name host and port"),
        (&["watch", "tcp:localhost:99999"], "port from 0 to 65535"),
        (&["watch", "serial:/dev/ttyS0@9"], "300 to 4000000"),
        (&["watch", "tcp:h:1", "--zone", "5"], "must be from 1 to 4"),
        (&["watch", "tcp:h:1", "--every", "0"], "must be from 0.2 to 10 s"),
        (&["watch", "tcp:h:1", "--do", "flood"], "order is `flood`"),
        (&["run", "--serve", "serial:/dev/ttyS0"], "must be tcp:HOST:PORT"),
        (&["run", "--serve", "tcp:127.0.0.1:0", "--speed", "0"], "from 0.01 to 1000000"),
    ];
    for (args, words) in wrong {
        let output = drydown(args);
        assert_eq!(output.status.code(), Some(2), "{args:?}");
        assert!(stderr(&output).contains(words), "{args:?}: {}", stderr(&output));
    }
}

/// The served device behind a pair of pseudo-terminals, which a thread joins to its port.
#[cfg(target_os = "linux")]
#[test]
fn a_serial_line_does_as_well() {
    use std::os::fd::AsRawFd;
    let device = Served::new("dry-week", "60");
    let (near, far) = serial2::SerialPort::pair().expect("pseudo-terminals");
    let path = std::fs::read_link(format!("/proc/self/fd/{}", far.as_raw_fd())).expect("a name");
    let stream = TcpStream::connect(device.1.trim_start_matches("tcp:")).unwrap();
    let (mut from, near) = (stream.try_clone().unwrap(), std::sync::Arc::new(near));
    let to_device = near.clone();
    std::thread::spawn(move || {
        let (mut stream, mut bytes) = (stream, [0; 64]);
        while let Ok(count) = to_device.read(&mut bytes) {
            if stream.write_all(&bytes[..count]).is_err() {
                break;
            }
        }
    });
    std::thread::spawn(move || {
        let mut bytes = [0; 64];
        while let Ok(count @ 1..) = from.read(&mut bytes) {
            if near.write_all(&bytes[..count]).is_err() {
                break;
            }
        }
    });
    let place = format!("serial:{}@115200", path.display());
    let output = drydown(&["watch", &place, "--once"]);
    assert!(output.status.success(), "{}{}", stdout(&output), stderr(&output));
    assert!(stdout(&output).contains("waters from 51.0 up to 55.0"), "{}", stdout(&output));
}
