//! Records in flash: appended, read back, and found again after a cut at any word.
//!
//! # Layout
//! A page begins with a head: 4 bytes mark, its generation (one more with every page begun), the
//! CRC-32 of both. Slots of one [record or settings](super::codec) each follow. Head and slots
//! are rounded up to whole words and filled with `0xFF`.
//!
//! # Rules
//! - Slots are filled in order and never twice. The newest valid record *by number* is the one
//!   (settings are valid by their CRC: a device that reads none need not hold what reads them);
//!   of two with one number (the first was torn, and is legible today) the later written.
//! - A record counts as kept when it has been read back equal.
//! - Every life spoils one slot before it writes: the one after the last that shows anything. A
//!   cut may have begun to write it without a bit to show for it, and such cells can read well
//!   for a while. Spoiled, it is never mistaken for blank again.
//! - So two records next to each other are of one life, and the first was written whole. A record
//!   before anything else is *doubtful*: a cut may have left it half written, although it reads
//!   well today. It is never leaned on, but written once more before anything new.
//! - A page begun takes over the newest of every zone before it takes anything new. So when it is
//!   full, it alone holds all there is to know, and another page may be erased. Before each
//!   erase that is verified by reading, not believed.
//! - The last three slots of a page take nothing new. Should a record that the page took over
//!   have rotted when the page is full, it is taken over again into one of them: otherwise
//!   neither page could ever be spared.
//! - A page that has a head and nothing else is erased again: the head may be half written.
//! - Nothing is programmed or erased while a valve is open: it would hold up the interrupt that
//!   closes it. Whoever wants to write must show what every drive reports.
//!
//! # Life
//! [`years_of_life`] computes it. A zone writes 24 age records a day and three for each opening
//! (intention, closing, answer); eight openings make that 48. Two pages of 4 KiB, words of 4 bytes
//! and 10 000 erase cycles then last 35 years with one zone and 7 years with four.
//! Ten thousand cycles are the least that data sheets of microcontrollers commonly promise.

mod medium;

pub use medium::{Flash, years_of_life};

use core::fmt;

use crc::{CRC_32_ISO_HDLC, Crc, NoTable};

use super::codec::{self, HEAD_LENGTH, Head, Kind, LENGTH, ZoneRecord};
use super::{Record, RecordNumber, Settings, Store, Stored, ZoneIndex};
use crate::guard::Plan;
use crate::zone::Drive;
use medium::{KINDS, PAGE_HEAD, RESERVE, slots, whole_words};

/// Of pages whose slots are as long as a record of version 2. Others are foreign, and erased.
const MARK: [u8; 4] = *b"dry2";
/// The head of a slot in whole words of four bytes.
const HEAD_READ: usize = HEAD_LENGTH.next_multiple_of(4);
const LONGEST_WORD: usize = 32;
/// A slot at its longest: [`LENGTH`] rounded up to whole words.
const LONGEST_SLOT: usize = 128;
const CRC: Crc<u32, NoTable> = Crc::<u32, NoTable>::new(&CRC_32_ISO_HDLC);

/// Why a record was not kept.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum StoreError<E> {
    /// The hardware refused.
    Flash(E),
    /// What was read back is not what was written.
    NotReadBack,
    /// The page still shows something after it was erased.
    NotErased,
    /// A valve is open.
    ValveOpen,
    /// The store holds a newer record of this zone.
    Older,
    /// No page can be erased without losing the newest of something.
    NoRoom,
    /// The store was made for fewer zones.
    NoSuchZone,
}

impl<E: fmt::Debug> fmt::Display for StoreError<E> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Flash(error) => write!(f, "the flash refused: {error:?}"),
            Self::NotReadBack => f.write_str("what was read back is not what was written"),
            Self::NotErased => f.write_str("the page is not blank after it was erased"),
            Self::ValveOpen => f.write_str("nothing is written while a valve is open"),
            Self::Older => f.write_str("the store holds a newer record of this zone"),
            Self::NoRoom => f.write_str("no page can be erased without losing a newest record"),
            Self::NoSuchZone => f.write_str("the store was made for fewer zones"),
        }
    }
}

impl<E: fmt::Debug> core::error::Error for StoreError<E> {}

/// Whose newest is sought.
#[derive(Clone, Copy, PartialEq, Eq)]
struct Key {
    zone: ZoneIndex,
    kind: Kind,
}

/// Where something stands.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
struct Place {
    number: RecordNumber,
    generation: u32,
    page: usize,
    slot: usize,
}

/// Something legible: where it stands, and the bytes by which it was judged. A half-written slot
/// may read otherwise the next time, so it is not read again.
#[derive(Clone, Copy, Debug)]
struct Found {
    place: Place,
    bytes: [u8; LENGTH],
}

impl Place {
    const fn order(&self) -> (RecordNumber, u32, usize) {
        (self.number, self.generation, self.slot)
    }
}

/// The page that is being filled.
#[derive(Clone, Copy, Debug)]
struct Filling {
    page: usize,
    generation: u32,
    /// The next slot to write.
    next: usize,
    /// The first slot written in this life. What is legible from here on was written whole.
    own: usize,
    /// The slot to spoil before this life writes.
    to_spoil: Option<usize>,
}

/// In which pages is looked. No closure: each would be a search of its own in flash.
#[derive(Clone, Copy)]
enum Pages {
    All,
    Only(usize),
    AllBut(usize),
}

impl Pages {
    const fn contain(self, page: usize) -> bool {
        match self {
            Self::All => true,
            Self::Only(one) => page == one,
            Self::AllBut(one) => page != one,
        }
    }
}

/// Which copies count.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Copies {
    All,
    /// Those that no cut can have left half written.
    Firm,
}

/// The records of `ZONES` zones, 1..=4, in flash.
///
/// ```
/// # use drydown::persist::{Flash, FlashStore, ZoneIndex};
/// # use drydown::guard::Plan;
/// # use drydown::zone::Drive;
/// # fn example<F: Flash>(flash: F, plan: &Plan, drive: Drive) {
/// let mut store = FlashStore::<F, 1>::open(flash);
/// let found = store.stored(ZoneIndex::FIRST, plan); // for `Zone::boot`
/// // In the main loop, with what `Handle::sample` gave; `turn` then does the writing.
/// let mut store = store.zone(ZoneIndex::FIRST, plan, &[drive]);
/// # }
/// ```
#[derive(Clone, Debug)]
pub struct FlashStore<F, const ZONES: usize> {
    flash: F,
    filling: Option<Filling>,
}

/// The store as one zone sees it within one turn.
#[derive(Debug)]
pub struct ZoneStore<'s, F, const ZONES: usize> {
    store: &'s mut FlashStore<F, ZONES>,
    zone: ZoneIndex,
    unit: u8,
    closed: bool,
}

impl<F: Flash, const ZONES: usize> FlashStore<F, ZONES> {
    const SLOTS: usize = slots(F::PAGE, F::WORD);
    const SLOT: usize = whole_words(LENGTH, F::WORD);

    /// Looks through the pages. Writes nothing.
    ///
    /// Pages too few or too short, words too long and too many zones do not compile.
    pub fn open(flash: F) -> Self {
        const {
            assert!(F::WORD.is_power_of_two() && F::WORD <= LONGEST_WORD, "a word is 1..=32 bytes");
            assert!(F::PAGES >= 2, "one page is erased while another holds the records");
            assert!(F::PAGE.is_multiple_of(F::WORD), "a page is whole words");
            assert!(ZONES >= 1 && ZONES <= ZoneIndex::MOST, "a store holds one to four zones");
            assert!(
                Self::SLOTS >= 2 * KINDS.len() * ZONES + 2 + RESERVE,
                "a page holds record and settings of every zone twice, and more"
            );
        }
        let mut store = Self { flash, filling: None };
        store.filling = store.find_filling();
        store
    }

    /// What a boot finds for a zone. `plan` is that of its configuration: a ledger that was
    /// counted in another unit is converted, and never becomes less by it.
    pub fn stored(&mut self, zone: ZoneIndex, plan: &Plan) -> Stored {
        let key = Key { zone, kind: Kind::Record };
        if let Some(found) = self.newest(key, Pages::All, Copies::All)
            && let Ok(found) = codec::decode(&found.bytes)
        {
            return Stored::Found(found.counted_by(plan));
        }
        Stored::Lost(self.highest_legible(key))
    }

    /// The settings a person changed, if any are kept.
    pub fn settings(&mut self, zone: ZoneIndex) -> Option<Settings> {
        let key = Key { zone, kind: Kind::Settings };
        let found = self.newest(key, Pages::All, Copies::All)?;
        codec::decode_settings(&found.bytes).ok().map(|(_, settings)| settings)
    }

    /// The store as `zone` sees it in this turn. `drives` is what the drives of *all* zones in
    /// this store report now: while one is on, nothing is written.
    pub fn zone(
        &mut self,
        zone: ZoneIndex,
        plan: &Plan,
        drives: &[Drive; ZONES],
    ) -> ZoneStore<'_, F, ZONES> {
        let closed = drives.iter().all(|drive| !drive.on);
        ZoneStore { store: self, zone, unit: plan.shift(), closed }
    }

    /// The flash, to be looked at.
    pub const fn flash(&self) -> &F {
        &self.flash
    }

    /// Gives the flash back.
    pub fn release(self) -> F {
        self.flash
    }

    /// Every zone's record and settings.
    fn keys() -> impl Iterator<Item = Key> {
        (0..ZONES * KINDS.len()).filter_map(|place| {
            let zone = ZoneIndex::new((place / KINDS.len()) as u8)?;
            let kind = *KINDS.get(place % KINDS.len())?;
            Some(Key { zone, kind })
        })
    }

    /// Appends, once everything else stands in the same page.
    fn put(
        &mut self,
        key: Key,
        number: RecordNumber,
        bytes: &[u8; LENGTH],
    ) -> Result<(), StoreError<F::Error>> {
        if usize::from(key.zone.get()) >= ZONES {
            return Err(StoreError::NoSuchZone);
        }
        if self.newest(key, Pages::All, Copies::All).is_some_and(|kept| number < kept.place.number)
        {
            return Err(StoreError::Older);
        }
        // At worst: the page is full, and so is the next, of takings-over that were cut.
        for _ in 0..3 {
            if self.take_over()? {
                return self.append(bytes);
            }
            self.begin_page()?;
        }
        Err(StoreError::NoRoom)
    }

    /// Writes into the page being filled whatever stands firm only elsewhere. Answers whether
    /// there is room left for something new.
    fn take_over(&mut self) -> Result<bool, StoreError<F::Error>> {
        let Some(Filling { page, .. }) = self.filling else { return Ok(false) };
        for key in Self::keys() {
            // Once; and again if a half-written record that is newer still reads well only now.
            let mut tries = 0..3;
            while let Some(newest) = self.stands_only_elsewhere(key, page) {
                if !self.has_room() {
                    return Ok(false);
                }
                if tries.next().is_none() {
                    return Err(StoreError::NotReadBack);
                }
                self.append(&newest.bytes)?;
            }
        }
        Ok(self.has_room_to_spare())
    }

    /// The newest of a key, unless it stands firm in this page.
    fn stands_only_elsewhere(&mut self, key: Key, page: usize) -> Option<Found> {
        let newest = self.newest(key, Pages::All, Copies::All)?;
        let here = self.newest(key, Pages::Only(page), Copies::Firm);
        here.is_none_or(|here| here.place.number < newest.place.number).then_some(newest)
    }

    /// Whether there is room to take something over.
    fn has_room(&self) -> bool {
        self.filling.is_some_and(|filling| filling.next < Self::SLOTS)
    }

    /// Whether there is room for something new.
    fn has_room_to_spare(&self) -> bool {
        self.filling.is_some_and(|filling| filling.next.saturating_add(RESERVE) < Self::SLOTS)
    }

    /// Writes the next slot and reads it back.
    fn append(&mut self, bytes: &[u8; LENGTH]) -> Result<(), StoreError<F::Error>> {
        self.spoil()?;
        let Some(filling) = self.filling.as_mut() else { return Err(StoreError::NoRoom) };
        if filling.next >= Self::SLOTS {
            return Err(StoreError::NoRoom);
        }
        let at = Self::slot_at(filling.page, filling.next);
        // Whatever becomes of it, the slot is used.
        filling.next = filling.next.saturating_add(1);
        self.program(at, bytes)
    }

    /// Programs zeroes into the slot that a cut may have begun, so that it shows.
    fn spoil(&mut self) -> Result<(), StoreError<F::Error>> {
        let Some(Filling { page, to_spoil: Some(slot), .. }) = self.filling else { return Ok(()) };
        let at = Self::slot_at(page, slot);
        let zeroes = [0; LONGEST_WORD];
        // Flash that refuses a word begun before shows by that refusal that it is not blank.
        let spoiled = self.flash.program(at, zeroes.get(..F::WORD).unwrap_or(&zeroes));
        if self.is_blank(at, F::WORD) {
            return Err(spoiled.err().map_or(StoreError::NotReadBack, StoreError::Flash));
        }
        if let Some(filling) = self.filling.as_mut() {
            filling.to_spoil = None;
        }
        Ok(())
    }

    /// Erases the page that can best be spared and begins it.
    fn begin_page(&mut self) -> Result<(), StoreError<F::Error>> {
        let page = self.page_to_spare().ok_or(StoreError::NoRoom)?;
        let generations = (0..F::PAGES).filter_map(|page| self.generation(page));
        let generation = generations.max().unwrap_or(0).saturating_add(1);
        if self.filling.is_some_and(|filling| filling.page == page) {
            self.filling = None;
        }
        self.flash.erase(page).map_err(StoreError::Flash)?;
        if !self.is_blank(page.saturating_mul(F::PAGE), F::PAGE) {
            return Err(StoreError::NotErased);
        }
        let mut head = [0; PAGE_HEAD];
        if let Some((covered, check)) = head.split_first_chunk_mut::<8>() {
            *covered = page_mark(generation);
            for (place, byte) in check.iter_mut().zip(CRC.checksum(covered).to_le_bytes()) {
                *place = byte;
            }
        }
        self.program(page.saturating_mul(F::PAGE), &head)?;
        self.filling = Some(Filling { page, generation, next: 0, own: 0, to_spoil: None });
        Ok(())
    }

    /// The next page in turn whose loss loses nothing.
    ///
    /// A page that was cut again and again while it took over is full and holds nothing new: it
    /// is begun again. What was a firm copy elsewhere when it began is good enough then, and
    /// nothing was kept since.
    fn page_to_spare(&mut self) -> Option<usize> {
        let last = self.filling.map_or(F::PAGES - 1, |filling| filling.page);
        let mut in_turn = (1..=F::PAGES).map(|step| (last + step) % F::PAGES);
        let mut itself_first = (0..F::PAGES).map(|step| (last + step) % F::PAGES);
        let spared = in_turn.find(|&page| self.can_be_spared(page, Copies::Firm));
        spared.or_else(|| itself_first.find(|&page| self.can_be_spared(page, Copies::All)))
    }

    /// Whether everything legible in a page stands elsewhere, or newer.
    fn can_be_spared(&mut self, page: usize, copies: Copies) -> bool {
        Self::keys().all(|key| {
            let Some(here) = self.newest(key, Pages::Only(page), Copies::All) else { return true };
            let elsewhere = self.newest(key, Pages::AllBut(page), copies);
            elsewhere.is_some_and(|elsewhere| elsewhere.place.number >= here.place.number)
        })
    }

    /// The newest of a key in some pages.
    fn newest(&mut self, key: Key, pages: Pages, copies: Copies) -> Option<Found> {
        let mut newest: Option<Found> = None;
        for page in (0..F::PAGES).filter(|&page| pages.contain(page)) {
            let generation = self.generation(page).unwrap_or(0);
            // From the last slot on: most of the earlier ones are then known to be older by
            // their heads alone.
            for slot in (0..Self::SLOTS).rev() {
                let Some(Head { number, .. }) = self.head_of(page, slot, key) else { continue };
                let place = Place { number, generation, page, slot };
                if newest.is_some_and(|newest| newest.place.order() > place.order()) {
                    continue;
                }
                let mut bytes = [0; LENGTH];
                let whole = self.read_slot(page, slot, &mut bytes) && is_whole(key, &bytes);
                if whole && (copies == Copies::All || self.is_firm(page, slot)) {
                    newest = Some(Found { place, bytes });
                }
            }
        }
        newest
    }

    /// The head of a slot if it is of this key, whatever follows.
    fn head_of(&mut self, page: usize, slot: usize, key: Key) -> Option<Head> {
        let mut bytes = [0; HEAD_READ];
        self.flash.read(Self::slot_at(page, slot), &mut bytes).ok()?;
        codec::head(&bytes).filter(|head| head.zone == key.zone && head.kind == key.kind)
    }

    fn highest_legible(&mut self, key: Key) -> RecordNumber {
        let mut highest = RecordNumber::NONE;
        for page in 0..F::PAGES {
            for slot in 0..Self::SLOTS {
                if let Some(head) = self.head_of(page, slot, key) {
                    highest = highest.max(head.number);
                }
            }
        }
        highest
    }

    /// Whether no cut can have left a legible slot half written: it is of this life, or the same
    /// life went on to write the next.
    fn is_firm(&mut self, page: usize, slot: usize) -> bool {
        if self.filling.is_some_and(|filling| filling.page == page && slot >= filling.own) {
            return true;
        }
        let next = slot.saturating_add(1);
        let mut bytes = [0; LENGTH];
        next < Self::SLOTS
            && self.read_slot(page, next, &mut bytes)
            && (codec::decode(&bytes).is_ok() || codec::settings_of(&bytes).is_some())
    }

    /// The page with the highest generation, if anything was written into it.
    fn find_filling(&mut self) -> Option<Filling> {
        let mut found: Option<Filling> = None;
        for page in 0..F::PAGES {
            let Some(generation) = self.generation(page) else { continue };
            if found.is_some_and(|found| found.generation > generation) {
                continue;
            }
            let used = (0..Self::SLOTS)
                .rev()
                .find(|&slot| !self.is_blank(Self::slot_at(page, slot), Self::SLOT));
            let Some(to_spoil) = used.map(|slot| slot.saturating_add(1)) else { continue };
            let next = to_spoil.saturating_add(1);
            let to_spoil = Some(to_spoil).filter(|&slot| slot < Self::SLOTS);
            found = Some(Filling { page, generation, next, own: next, to_spoil });
        }
        found
    }

    /// The generation of a page whose head is whole.
    fn generation(&mut self, page: usize) -> Option<u32> {
        let mut head = [0; PAGE_HEAD];
        self.flash.read(page.saturating_mul(F::PAGE), &mut head).ok()?;
        let (covered, &check) = head.split_last_chunk::<4>()?;
        let (&mark, generation) = covered.split_first_chunk::<4>()?;
        let (&generation, _) = generation.split_first_chunk::<4>()?;
        let whole = mark == MARK && CRC.checksum(covered) == u32::from_le_bytes(check);
        whole.then_some(u32::from_le_bytes(generation))
    }

    const fn slot_at(page: usize, slot: usize) -> usize {
        page.saturating_mul(F::PAGE)
            .saturating_add(whole_words(PAGE_HEAD, F::WORD))
            .saturating_add(slot.saturating_mul(Self::SLOT))
    }

    /// Reads a slot; says whether the flash let it.
    fn read_slot(&mut self, page: usize, slot: usize, bytes: &mut [u8; LENGTH]) -> bool {
        self.flash.read(Self::slot_at(page, slot), bytes).is_ok()
    }

    /// Programs whole words and reads them back.
    fn program(&mut self, at: usize, bytes: &[u8]) -> Result<(), StoreError<F::Error>> {
        let (mut written, mut read) = ([0xFF; LONGEST_SLOT], [0; LONGEST_SLOT]);
        for (place, &byte) in written.iter_mut().zip(bytes) {
            *place = byte;
        }
        let length = whole_words(bytes.len(), F::WORD);
        let (Some(written), Some(read)) = (written.get(..length), read.get_mut(..length)) else {
            return Err(StoreError::NoRoom);
        };
        self.flash.program(at, written).map_err(StoreError::Flash)?;
        self.flash.read(at, read).map_err(StoreError::Flash)?;
        if *read == *written { Ok(()) } else { Err(StoreError::NotReadBack) }
    }

    /// Whether a stretch reads blank. What cannot be read is not.
    fn is_blank(&mut self, at: usize, length: usize) -> bool {
        let mut word = [0; LONGEST_WORD];
        let Some(word) = word.get_mut(..F::WORD) else { return false };
        let mut places = (at..at.saturating_add(length)).step_by(F::WORD);
        places.all(|at| self.flash.read(at, word).is_ok() && word.iter().all(|&byte| byte == 0xFF))
    }
}

/// Mark and generation, the covered part of a page's head.
fn page_mark(generation: u32) -> [u8; 8] {
    let ([a, b, c, d], [e, f, g, h]) = (MARK, generation.to_le_bytes());
    [a, b, c, d, e, f, g, h]
}

/// Whether bytes are whole and of this key.
fn is_whole(key: Key, bytes: &[u8; LENGTH]) -> bool {
    match key.kind {
        Kind::Record => codec::decode(bytes).is_ok_and(|kept| kept.zone == key.zone),
        Kind::Settings => codec::settings_of(bytes) == Some(key.zone),
    }
}

impl<F: Flash, const ZONES: usize> ZoneStore<'_, F, ZONES> {
    /// Writes changed settings and reads them back.
    ///
    /// # Errors
    /// As [`put`](Store::put).
    pub fn put_settings(&mut self, settings: &Settings) -> Result<(), StoreError<F::Error>> {
        if !self.closed {
            return Err(StoreError::ValveOpen);
        }
        let key = Key { zone: self.zone, kind: Kind::Settings };
        let number = match self.store.newest(key, Pages::All, Copies::All) {
            Some(kept) => kept.place.number.next(),
            None => self.store.highest_legible(key).next_epoch(),
        };
        self.store.put(key, number, &codec::encode_settings(self.zone, number, settings))
    }
}

impl<F: Flash, const ZONES: usize> Store for ZoneStore<'_, F, ZONES> {
    type Error = StoreError<F::Error>;

    fn may_write(&self) -> bool {
        self.closed
    }

    fn put(&mut self, record: &Record) -> Result<RecordNumber, Self::Error> {
        if !self.closed {
            return Err(StoreError::ValveOpen);
        }
        let Self { zone, unit, .. } = *self;
        let bytes = codec::encode(&ZoneRecord { zone, unit, record: *record });
        self.store.put(Key { zone, kind: Kind::Record }, record.number, &bytes)?;
        Ok(record.number)
    }
}
