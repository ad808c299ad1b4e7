//! What arbitrary bytes are fed to: each takes any bytes, returns, and panics if a promise is
//! broken. The fuzzer in `tests/fuzz` searches; the corpus it found worth keeping is replayed by
//! `cargo test`.

use drydown::persist::codec::{LENGTH, decode, decode_settings, encode, encode_settings};
use drydown::persist::configuration;
use drydown::persist::{FlashStore, Record, RecordNumber, Store, Stored, ZoneIndex};
use drydown::quantity::Millis;
use drydown::wire::{
    self, DeviceEnd, Head, Heard, MOST_BYTES, MOST_FRAME, Message, Receiver, Reply, Request,
};
use drydown::zone::{Boot, BootCause, Drive, Inputs, Zone};

mod store;
#[cfg(feature = "simulator")]
mod texts;

use crate::adversary::{Appetite, Device, Dice, PLACES, Persona, Tamper, place, told};
use crate::configs;
use crate::crc::{crc16, crc32};
use crate::flash::MockFlash;
pub use store::store_history;
#[cfg(feature = "simulator")]
pub use texts::{scenario, weather};

/// A target by its name, which is that of its corpus.
pub type Target = (&'static str, fn(&[u8]));

/// Every target; what a person writes needs the simulator, which reads it.
pub const TARGETS: &[Target] = &[
    ("step_history", step_history),
    ("image", image),
    ("flash", flash),
    ("store_history", store_history),
    ("wire", line),
    #[cfg(feature = "simulator")]
    ("scenario", scenario),
    #[cfg(feature = "simulator")]
    ("weather", weather),
];

/// Steps of one history at most.
const HISTORY: u64 = 64;

/// A device, and an adversary whose every throw is chosen: no rule is broken in 64 steps.
///
/// # Panics
/// If one is.
pub fn step_history(bytes: &[u8]) {
    let Some((&[which, appetite], tape)) = bytes.split_first_chunk() else { return };
    let (index, persona) = place_and_persona(which);
    let appetite = match appetite % 3 {
        0 => Appetite::Greedy,
        1 => Appetite::Fickle,
        _ => Appetite::Doses(4_000),
    };
    let config = place(index, appetite);
    let new = || Device::new(config, told(&config), persona, Tamper::Not, Dice::of_tape(tape));
    if new().run_chosen(HISTORY).is_err() {
        let mut device = new();
        device.keep_log();
        if let Err(failure) = device.run_chosen(HISTORY) {
            panic!("{} under {persona:?}, {appetite:?}:\n{failure}", PLACES[index]);
        }
    }
}

/// Five places came first; the bytes that chose among them still do.
fn place_and_persona(which: u8) -> (usize, Persona) {
    const FIRST: usize = 5;
    let which = usize::from(which) % (PLACES.len() * Persona::ALL.len());
    let (first, later) = (FIRST * Persona::ALL.len(), PLACES.len() - FIRST);
    let (index, persona) = if which < first {
        (which % FIRST, which / FIRST)
    } else {
        (FIRST + (which - first) % later, (which - first) / later)
    };
    (index, Persona::ALL[persona])
}

/// Bytes that claim to be a record or a configuration: refused, or written again bit for bit (of an earlier version:
/// with the same meaning, ages to a minute); a zone that boots on it opens nothing in its first step. Tried as they
/// are and with both checks put right.
///
/// # Panics
/// If not.
pub fn image(bytes: &[u8]) {
    try_image(bytes);
    try_configuration(bytes);
    let Some((bytes, _)) = bytes.split_first_chunk::<LENGTH>() else { return };
    let mut sealed = *bytes;
    sealed[12..14].copy_from_slice(&crc16(&bytes[..12]).to_le_bytes());
    let check = crc32(&sealed[..LENGTH - 4]);
    sealed[LENGTH - 4..].copy_from_slice(&check.to_le_bytes());
    try_image(&sealed);
}

fn try_image(bytes: &[u8]) {
    if let Ok((head, settings)) = decode_settings(bytes) {
        let again = encode_settings(head.zone, head.number, &settings);
        assert_eq!(decode_settings(&again), Ok((head, settings)));
        assert!(bytes.len() < LENGTH || again[..] == *bytes, "{settings:?}");
    }
    let Ok(kept) = decode(bytes) else { return };
    let again = encode(&kept);
    let newest = bytes.first() == again.first();
    assert_eq!(decode(&again).map(|kept| encode(&kept)), Ok(again));
    assert!(!newest || again[..] == *bytes, "{kept:?}");
    boots_closed(&Stored::Found(kept.record));
}

/// Bytes that claim to be a configuration: refused, or written again bit for bit. Tried as they are
/// and with the check put right.
fn try_configuration(bytes: &[u8]) {
    let Some((bytes, _)) = bytes.split_first_chunk::<{ configuration::LENGTH }>() else { return };
    let mut sealed = *bytes;
    let check = crc32(&sealed[..configuration::LENGTH - 4]);
    sealed[configuration::LENGTH - 4..].copy_from_slice(&check.to_le_bytes());
    for bytes in [*bytes, sealed] {
        if let Ok(config) = configuration::decode(&bytes) {
            assert_eq!(configuration::encode(&config), Some(bytes));
        }
    }
}

fn boots_closed(stored: &Stored) {
    let config = configs::trough().check().expect("an invented configuration");
    let mut zone = Zone::boot(config, Boot::Start(BootCause::PowerOn), stored, None);
    let outcome = zone.step(1, &Inputs::default());
    assert!(outcome.permit.is_none() && !outcome.renew, "opened at once on {stored:?}");
    assert!(outcome.next.at > 1);
}

/// Two pages that hold anything: a store opens on them, and once a record was kept a boot finds it.
///
/// # Panics
/// If not.
pub fn flash(bytes: &[u8]) {
    let config = configs::trough().check().expect("an invented configuration");
    let plan = config.ledger_plan();
    let mut store = FlashStore::<_, 1>::open(MockFlash::<2_048, 8, 2>::holding(bytes));
    let stored = store.stored(ZoneIndex::FIRST, plan);
    boots_closed(&stored);
    let number = match &stored {
        Stored::Found(record) => record.number,
        Stored::Lost(number) => *number,
    };
    if number.epoch == u32::MAX || number.sequence == u32::MAX {
        return;
    }
    let number = RecordNumber { epoch: number.epoch + 1, sequence: number.sequence + 1 };
    let mut zone = Zone::boot(config, Boot::Start(BootCause::PowerOn), &stored, None);
    let Some(record) = zone.step(1, &Inputs::default()).record else { return };
    let record = Record { number, ..record };
    let closed = [Drive::default()];
    if store.zone(ZoneIndex::FIRST, plan, &closed).put(&record).is_ok() {
        let mut opened = FlashStore::<_, 1>::open(store.release());
        let found = opened.stored(ZoneIndex::FIRST, plan);
        assert_eq!(found, Stored::Found(record));
    }
}

/// A line that carries anything. The device's end hears nothing that was not sent whole, and the
/// next request all the same; what is taken for a message is written again bit for bit. Tried as
/// bytes of the line and, with head and check put right, as bytes of a message.
///
/// # Panics
/// If not.
pub fn line(bytes: &[u8]) {
    let mut end = DeviceEnd::new(Millis::from_secs(30));
    let heard = bytes.iter().filter(|&&byte| end.take(0, byte).is_some()).count();
    assert!(heard <= whole_frames(bytes), "{heard} heard");
    let head = Head { zone: ZoneIndex::FIRST, tag: 7 };
    let mut out = [0; MOST_BYTES];
    let look = wire::encode(head, &Request::Look, &mut out);
    let heard = look.iter().filter_map(|&byte| end.take(0, byte)).last();
    assert_eq!(heard, Some(Heard::Request(head, Request::Look)), "after {bytes:?}");
    let Some((&kind, body)) = bytes.split_first() else { return };
    let mut frame = vec![2, kind, 2, 3, 0, 0, 1];
    frame.extend(&body[..body.len().min(MOST_FRAME - 11)]);
    let check = crc32(&frame);
    frame.extend(check.to_le_bytes());
    is_exact::<Request>(&frame);
    is_exact::<Reply<'_>>(&frame);
}

/// Frames in a stream by the definition of the line, and by a stuffing and a check that are not
/// the library's.
fn whole_frames(bytes: &[u8]) -> usize {
    let frames = bytes.split(|&byte| byte == 0).filter(|frame| !frame.is_empty());
    frames
        .filter_map(|frame| cobs::decode_vec(frame).ok())
        .filter(|frame| {
            frame
                .split_last_chunk::<4>()
                .is_some_and(|(covered, check)| crc32(covered) == u32::from_le_bytes(*check))
        })
        .count()
}

fn is_exact<'f, M: Message<'f>>(frame: &'f [u8]) {
    let Ok((head, message)) = wire::decode::<M>(frame) else { return };
    let mut out = [0; MOST_BYTES];
    let mut receiver = Receiver::<MOST_FRAME>::new();
    let mut again = vec![];
    for &byte in wire::encode(head, &message, &mut out) {
        if let Some(Ok(frame)) = receiver.push(byte) {
            again = frame.to_vec();
        }
    }
    assert_eq!(again, frame);
}
