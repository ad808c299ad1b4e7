//! Pages that cut upon cut has left full of ruins, made by hand: which of them is begun anew.

use drydown::persist::codec::LENGTH;
use drydown::persist::{Flash, FlashStore, Image, Record, RecordNumber, Store, Stored, ZoneIndex};
use drydown::quantity::Millis;
use drydown::zone::Drive;
use drydown_tests::configs::pump;
use drydown_tests::flash::MockFlash;

const PAGE: usize = 1_024;
const WORD: usize = 16;
/// Mark, generation and check of a page take a word, a record seven.
const SLOT: usize = LENGTH.div_ceil(WORD) * WORD;
type Two = MockFlash<PAGE, WORD, 2>;

/// A store that has one zone, and what it was given.
struct Kept {
    store: FlashStore<Two, 1>,
    image: Image,
    sequence: u32,
}

impl Kept {
    fn new() -> Self {
        let config = pump().check().expect("the invented pump");
        let image = super::device::records(&config, Two::new(3), 40)[0].image;
        Self { store: FlashStore::open(Two::new(5)), image, sequence: 0 }
    }

    fn put(&mut self) -> Record {
        let config = pump().check().expect("the invented pump");
        self.sequence += 1;
        let number = RecordNumber { epoch: 1, sequence: self.sequence };
        let image = Image { since_stance: Millis(self.sequence), ..self.image };
        let record = Record { number, image };
        let mut zone = self.store.zone(ZoneIndex::FIRST, config.ledger_plan(), &[Drive::default()]);
        zone.put(&record).expect("kept");
        let found = self.store.stored(ZoneIndex::FIRST, config.ledger_plan());
        assert_eq!(found, Stored::Found(record));
        record
    }

    fn bytes(&self) -> Vec<u8> {
        let mut bytes = vec![0; 2 * PAGE];
        self.store.flash().clone().read(0, &mut bytes).expect("within the flash");
        bytes
    }

    /// One that has begun so many pages after its first, and the last of them.
    fn with_pages_begun(turns: u32) -> (Self, usize) {
        let mut kept = Self::new();
        kept.put();
        let mut begun = 0;
        for _ in 0..turns {
            begun = kept.until_a_page_is_begun();
        }
        (kept, begun)
    }

    /// Goes on until a page is begun: which.
    fn until_a_page_is_begun(&mut self) -> usize {
        loop {
            let before = self.bytes();
            self.put();
            let now = self.bytes();
            let begun = [0, 1].into_iter().find(|page| head(&before, *page) != head(&now, *page));
            if let Some(page) = begun {
                return page;
            }
        }
    }

    /// The power comes back and finds these bytes.
    fn finds(&mut self, bytes: &[u8]) {
        self.store = FlashStore::open(Two::holding(bytes));
    }
}

fn head(bytes: &[u8], page: usize) -> &[u8] {
    &bytes[page * PAGE..page * PAGE + WORD]
}

fn slot(page: usize, slot: usize) -> std::ops::Range<usize> {
    let at = page * PAGE + WORD + slot * SLOT;
    at..at + SLOT
}

/// The last slot of a page that holds anything.
fn last_used(bytes: &[u8], page: usize) -> usize {
    let slots = (PAGE - WORD) / SLOT;
    let used = |&at: &usize| bytes[slot(page, at)].iter().any(|byte| *byte != 0xFF);
    (0..slots).rev().find(used).expect("something was written")
}

/// Nothing legible from this slot to the end of its page.
fn ruin_from(bytes: &mut [u8], page: usize, from: usize) {
    bytes[slot(page, from).start..(page + 1) * PAGE].fill(0);
}

/// Of two copies the one that its writer read back stays; the page of ruins around the other goes.
#[test]
fn of_two_pages_that_could_go_the_one_of_ruins_goes() {
    for turns in [1, 2] {
        let (mut kept, begun) = Kept::with_pages_begun(turns);
        let old = 1 - begun;
        // In the page just begun stands what was taken over, once; behind it every try was cut.
        let mut bytes = kept.bytes();
        let newest = last_used(&bytes, old);
        ruin_from(&mut bytes, old, newest + 1);
        ruin_from(&mut bytes, begun, 1);
        kept.finds(&bytes);
        kept.put();
        let now = kept.bytes();
        assert_eq!(now[slot(old, newest)], bytes[slot(old, newest)], "page {old} was erased");
        assert_ne!(head(&now, begun), head(&bytes, begun), "page {begun} was begun anew");
    }
}

/// What is new in a page of ruins is nowhere else: the page before it goes.
#[test]
fn a_page_of_ruins_around_something_new_stays() {
    for turns in [1, 2] {
        let (mut kept, begun) = Kept::with_pages_begun(turns);
        let old = 1 - begun;
        // What was taken over was cut and is gone; what came after it can be read.
        let mut bytes = kept.bytes();
        let newest = last_used(&bytes, old);
        ruin_from(&mut bytes, old, newest + 1);
        bytes[slot(begun, 0)].fill(0);
        ruin_from(&mut bytes, begun, 2);
        kept.finds(&bytes);
        kept.put();
        let now = kept.bytes();
        assert_eq!(now[slot(begun, 1)], bytes[slot(begun, 1)], "page {begun} was erased");
        assert_ne!(head(&now, old), head(&bytes, old), "page {old} was begun anew");
    }
}

/// A cut in the head of a page leaves its mark, and no page begins by a mark alone.
#[test]
fn a_page_whose_head_is_half_written_is_not_begun() {
    let mut kept = Kept::new();
    kept.put();
    let mut bytes = kept.bytes();
    let filling = usize::from(head(&bytes, 0) == [0xFF; WORD]);
    let other = 1 - filling;
    let mark: [u8; 4] = head(&bytes, filling)[..4].try_into().expect("four bytes");
    bytes[other * PAGE..][..4].copy_from_slice(&mark);
    bytes[slot(other, 0)].fill(0);
    kept.finds(&bytes);
    kept.put();
    let (now, there) = (kept.bytes(), other * PAGE..(other + 1) * PAGE);
    assert_eq!(now[there.clone()], bytes[there], "written behind a head that is not whole");
}
