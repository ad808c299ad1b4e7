//! A board that decides in a run, at the other end of a line that may fail.
//!
//! The board is the one that chips run, in a thread; the line is a socket.

mod from_outside;

use std::io::{self, Read, Write};
use std::net::{TcpListener, TcpStream};
use std::thread;
use std::time::{Duration, Instant};

use drydown::persist::configuration::identity;
use drydown_sim::board::{Board, BoardError, Patience, Traffic};
use drydown_sim::fault::Kind;
use drydown_sim::report;
use drydown_sim::run::{Pace, run, run_on_board};
use drydown_sim::scenario::schema::FaultTable;
use drydown_sim::scenario::{Setup, Source};
use drydown_sim::wire::address::Address;
use from_outside::{Folder, drydown_in, stderr};
use in_the_loop::frame::{self, Came, LONGEST_FRAME, Number, Reader};
use in_the_loop::message::Answer;

const HASTY: Patience = Patience { answer: Duration::from_millis(300), tries: 3 };
const PATIENT: Patience = Patience { answer: Duration::from_secs(10), tries: 3 };

/// The board's end of the line, and what happens on it.
struct End {
    stream: TcpStream,
    sent: usize,
    received: usize,
    /// One byte in so many is damaged, either way.
    damages: Option<usize>,
    /// The board dies when so many bytes have come.
    dies_after: Option<usize>,
}

impl End {
    fn sound(stream: TcpStream) -> Self {
        Self { stream, sent: 0, received: 0, damages: None, dies_after: None }
    }
}

impl embedded_io::ErrorType for End {
    type Error = io::Error;
}

impl embedded_io::Read for End {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let count = self.stream.read(into)?;
        for byte in &mut into[..count] {
            self.received += 1;
            if self.damages.is_some_and(|every| self.received.is_multiple_of(every)) {
                *byte ^= 0x10;
            }
        }
        let dies = self.dies_after.is_some_and(|after| self.received >= after);
        Ok(if dies { 0 } else { count })
    }
}

impl embedded_io::Write for End {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let mut bytes = bytes.to_vec();
        for byte in &mut bytes {
            self.sent += 1;
            if self.damages.is_some_and(|every| self.sent.is_multiple_of(every)) {
                *byte ^= 0x40;
            }
        }
        self.stream.write_all(&bytes)?;
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

/// The desktop's end of a line, at whose other end somebody does something.
fn line(other: impl FnOnce(TcpStream) + Send + 'static) -> Address {
    let listener = TcpListener::bind("127.0.0.1:0").expect("a socket");
    let port = listener.local_addr().expect("its address").port();
    thread::spawn(move || {
        let (stream, _) = listener.accept().expect("somebody connects");
        stream.set_nodelay(true).expect("a socket");
        other(stream);
    });
    format!("tcp:127.0.0.1:{port}").parse().expect("an address")
}

fn setup(scenario: &str, days: f64) -> Setup {
    let source = Source::open(scenario).expect("a shipped scenario");
    let mut scenario = source.parse().expect("it can be read");
    scenario.days = days;
    Setup::of(&source, scenario).expect("it can be run")
}

/// The report of a run that a board decides, and what went over the line.
fn decided(
    setup: &Setup,
    address: &Address,
    patience: Patience,
) -> Result<(String, Traffic), BoardError> {
    let mut board = Board::new(address.open().expect("the line opens"), patience);
    let findings = run_on_board(setup, Pace::Wake, None, &mut board)?;
    Ok((report::json("scenario", setup, &findings), board.traffic()))
}

fn here(setup: &Setup) -> String {
    report::json("scenario", setup, &run(setup, Pace::Wake, None))
}

#[test]
fn a_board_decides_as_the_host_does() {
    for (scenario, days) in [("dry-week", 7.0), ("probe-slips", 7.0), ("bare-pump", 10.0)] {
        let setup = setup(scenario, days);
        let address = line(|stream| in_the_loop::serve(End::sound(stream)));
        let (report, traffic) = decided(&setup, &address, PATIENT).expect(scenario);
        assert_eq!(report, here(&setup), "{scenario}");
        assert_eq!((traffic.repeated, traffic.damaged), (0, 0), "{scenario}");
        assert!(traffic.answers > 500, "{scenario}: {traffic:?}");
    }
}

/// Resets, a lost record, clocks that wrap and jump, a store that fails: what goes wrong in the
/// scenario goes wrong on the board.
#[test]
fn what_goes_wrong_goes_wrong_on_the_board() {
    for kind in [
        Kind::PowerCut,
        Kind::RecordLost,
        Kind::WatchdogBites,
        Kind::BrownOut,
        Kind::ReadingResets,
        Kind::CounterWraps,
        Kind::ClockJump,
        Kind::StoreFails,
        Kind::LoopHangs,
        Kind::ChipFreezes,
    ] {
        let source = Source::open("dry-week").expect("a shipped scenario");
        let mut scenario = source.parse().expect("it can be read");
        scenario.days = 5.0;
        let (at_h, for_h, amount) = (30.0, Some(40.0), None);
        scenario.faults = vec![FaultTable { kind, at_h, for_h, amount }];
        let setup = Setup::of(&source, scenario).expect("it can be run");
        let address = line(|stream| in_the_loop::serve(End::sound(stream)));
        let (report, _) = decided(&setup, &address, PATIENT)
            .unwrap_or_else(|error| panic!("{}: {error}", kind.name()));
        assert_eq!(report, here(&setup), "{}", kind.name());
    }
}

/// Each step and the log that the device would keep, of a run with a watering, a refusal and resets:
/// who decides makes no difference to a byte of them, nor that both are kept at once.
#[test]
fn trace_and_log_of_a_run_that_a_board_decides_are_those_of_the_host() {
    let folder = Folder::new("board-files");
    let faults = "[[fault]]\nkind = \"watchdog-bites\"\nat_h = 30.0\nfor_h = 20.0\n\
                  [[fault]]\nkind = \"probe-out\"\nat_h = 60.0\nfor_h = 9.0\n";
    let text = include_str!("../scenarios/dry-week.toml");
    folder.write("own.toml", &format!("{text}\n{faults}"));
    let run = |args: &[&str]| {
        let output = drydown_in(&folder.0, &[&["run", "own.toml"], args].concat());
        assert_ne!(output.status.code(), Some(2), "{}", stderr(&output));
    };
    run(&["--trace", "host-steps.csv"]);
    run(&["--log", "host-log.csv"]);
    let address = line(|stream| in_the_loop::serve(End::sound(stream))).to_string();
    run(&["--board", &address, "--trace", "steps.csv", "--log", "log.csv"]);
    let read = |name: &str| std::fs::read_to_string(folder.0.join(name)).expect(name);
    for (ours, hosts) in [("steps.csv", "host-steps.csv"), ("log.csv", "host-log.csv")] {
        let (ours, hosts) = (read(ours), read(hosts));
        assert!(hosts.lines().count() > 500, "{} lines", hosts.lines().count());
        let apart = ours.lines().zip(hosts.lines()).find(|(ours, hosts)| ours != hosts);
        assert!(ours == hosts, "{apart:?}, {} and {} bytes", ours.len(), hosts.len());
    }
    let steps = read("steps.csv");
    for happened in ["watering: dry enough", "restarted: the watchdog bit", "probe out of the soil"]
    {
        assert!(steps.contains(happened), "nothing tells of {happened}");
    }
}

#[test]
fn where_no_board_is_no_file_is_begun() {
    let folder = Folder::new("board-nobody");
    let args = ["run", "--board", "tcp:127.0.0.1:1", "--trace", "a.csv", "--log", "b.csv"];
    let output = drydown_in(&folder.0, &args);
    assert_eq!(output.status.code(), Some(2));
    assert!(stderr(&output).contains("--board"), "{}", stderr(&output));
    assert_eq!(folder.names(), Vec::<String>::new());
}

#[test]
fn a_line_that_damages_bytes_changes_no_decision() {
    let setup = setup("dry-week", 2.0);
    let address = line(|stream| {
        in_the_loop::serve(End { damages: Some(4_999), ..End::sound(stream) });
    });
    let (report, traffic) = decided(&setup, &address, HASTY).expect("it goes on");
    assert_eq!(report, here(&setup));
    assert!(traffic.repeated > 3, "{traffic:?}");
}

#[test]
fn a_board_that_vanishes_is_an_error_at_once() {
    let setup = setup("dry-week", 2.0);
    let address = line(|stream| {
        in_the_loop::serve(End { dies_after: Some(20_000), ..End::sound(stream) });
    });
    let error = decided(&setup, &address, PATIENT).expect_err("nobody is there");
    assert!(matches!(error, BoardError::Gone { answers, .. } if answers > 10), "{error}");
    assert!(error.told(&address).to_string().starts_with("--board is `tcp:127.0.0.1:"), "{error}");
}

#[test]
fn a_board_that_restarts_in_mid_run_is_an_error() {
    let setup = setup("dry-week", 2.0);
    let address = line(|stream| {
        let again = stream.try_clone().expect("a socket");
        in_the_loop::serve(End { dies_after: Some(20_000), ..End::sound(stream) });
        in_the_loop::serve(End::sound(again));
    });
    // What it was just being told is lost with it; it is asked again, and knows nothing.
    let error = decided(&setup, &address, HASTY).expect_err("it knows nothing of the run");
    assert!(matches!(error, BoardError::Restarted { answers } if answers > 10), "{error}");
}

#[test]
fn silence_and_endless_garbage_are_errors_in_time() {
    let setup = setup("dry-week", 2.0);
    let silent = line(|mut stream| {
        let _ = stream.read_to_end(&mut vec![]);
    });
    let babbling = line(|mut stream| {
        let mut count = 0_u8;
        while stream.write_all(&[count.wrapping_mul(37), count]).is_ok() {
            count = count.wrapping_add(1);
        }
    });
    for address in [silent, babbling] {
        let begun = Instant::now();
        let error = decided(&setup, &address, HASTY).expect_err("nobody answers");
        assert!(matches!(error, BoardError::Silent { answers: 0, .. }), "{error}");
        assert!(begun.elapsed() < Duration::from_secs(20), "{:?}", begun.elapsed());
    }
}

#[test]
fn a_board_of_another_version_is_told_from_a_dead_one() {
    let setup = setup("dry-week", 2.0);
    let address = line(|mut stream| {
        let mut reader = Reader::new();
        let mut byte = [0];
        while stream.read_exact(&mut byte).is_ok() {
            let came = reader.take::<in_the_loop::message::Request>(byte[0]);
            if let Some(Came::Message(number, _)) = came {
                let mut frame = [0; LONGEST_FRAME];
                let answer = frame::write(number, &Answer::OtherVersion(9), &mut frame);
                stream.write_all(answer.expect("it is short")).expect("it is sent");
            }
        }
    });
    let error = decided(&setup, &address, HASTY).expect_err("of another version");
    assert_eq!(error, BoardError::OtherVersion(9));
}

/// Asked to boot, it says that it runs something else.
#[test]
fn a_board_that_runs_another_configuration_decides_nothing() {
    let setup = setup("dry-week", 2.0);
    let told = identity(&setup.zone);
    let reported = told ^ 1;
    let address = line(move |mut stream| {
        let mut reader = Reader::new();
        let mut byte = [0];
        while stream.read_exact(&mut byte).is_ok() {
            let came = reader.take::<in_the_loop::message::Request>(byte[0]);
            if let Some(Came::Message(number, _)) = came {
                let mut frame = [0; LONGEST_FRAME];
                let answer = Answer::Booted { identity: reported };
                let answer = frame::write(number, &answer, &mut frame);
                stream.write_all(answer.expect("it is short")).expect("it is sent");
            }
        }
    });
    let error = decided(&setup, &address, HASTY).expect_err("it runs another one");
    assert_eq!(error, BoardError::OtherConfiguration { told, reported });
}

/// After any garbage, cut short anywhere, the next frame is understood.
#[test]
fn frames_are_found_again_behind_any_garbage() {
    let mut state = 7_u64;
    let mut draw = || {
        state =
            state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) as usize
    };
    let mut reader = Reader::new();
    for exchange in 0..20_000 {
        let garbage = draw() % 1_500;
        for _ in 0..garbage {
            // Nothing that was not sent with its checksum is taken for a message.
            let came = reader.take::<Answer>(draw() as u8);
            assert!(!matches!(came, Some(Came::Message(..))), "{came:?}");
        }
        let number = Number { run: 5, exchange };
        let mut frame = [0; LONGEST_FRAME];
        let frame = frame::write(number, &Answer::OtherVersion(3), &mut frame).expect("short");
        let came = frame.iter().filter_map(|&byte| reader.take::<Answer>(byte)).last();
        assert_eq!(came, Some(Came::Message(number, Answer::OtherVersion(3))));
    }
}

/// One bit that flips is never a message.
#[test]
fn no_flipped_bit_is_a_message() {
    let number = Number { run: 5, exchange: 9 };
    let mut frame = [0; LONGEST_FRAME];
    let frame = frame::write(number, &Answer::OtherVersion(3), &mut frame).expect("short");
    for bit in 0..frame.len() * 8 {
        let mut damaged = frame.to_vec();
        damaged[bit / 8] ^= 1 << (bit % 8);
        let mut reader = Reader::new();
        let came = damaged.iter().filter_map(|&byte| reader.take::<Answer>(byte)).last();
        let message = matches!(came, Some(Came::Message(..)));
        // The zero before the frame only ends what came before it.
        assert!(!message || bit < 8, "bit {bit}: {came:?}");
    }
}
