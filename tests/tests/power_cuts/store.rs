//! The store alone under cuts: what was kept is found again, or what was being written.

use drydown::persist::{
    Flash, FlashStore, Image, Record, RecordNumber, Settings, Store, StoreError, Stored, ZoneIndex,
};
use drydown::quantity::{Millis, Moisture};
use drydown::zone::{CheckedZone, Drive, ZoneConfig};
use drydown_tests::configs::{pump, trough};
use drydown_tests::flash::{MockFlash, Powered};

use super::device;
use super::doubles::{ErasedTooSoon, NeverChecked};

/// Something a device does with its store.
#[derive(Clone, Debug)]
enum Deed {
    /// Writes a record of a zone.
    Record(ZoneIndex, Image),
    /// Writes changed settings of a zone.
    Settings(ZoneIndex, Settings),
    /// Starts anew, without a cut.
    Boot,
}

/// What the store was told of one zone: the oracle.
#[derive(Clone, Debug, Default)]
struct Told {
    /// The number the zone goes on from.
    number: Option<RecordNumber>,
    kept: Option<Image>,
    /// Being written when the power went, since the last that was kept.
    begun: Vec<Image>,
    settings: Option<Settings>,
    settings_begun: Vec<Settings>,
}

/// A store, and what it was told.
#[derive(Clone)]
struct World<F: Flash, const ZONES: usize> {
    config: CheckedZone,
    store: FlashStore<F, ZONES>,
    told: [Told; ZONES],
    /// Makes every attempt to write differ from the one before.
    attempt: u32,
}

#[derive(Default, Debug, PartialEq, Eq)]
struct Counts {
    cuts: u64,
}

type Finding = Result<(), String>;

fn config() -> CheckedZone {
    pump().check().expect("the invented pump")
}

fn zone(index: usize) -> ZoneIndex {
    ZoneIndex::new(index as u8).expect("at most four zones")
}

impl<F: Powered, const ZONES: usize> World<F, ZONES> {
    fn new(flash: F) -> Self {
        let told = core::array::from_fn(|_| Told::default());
        let mut world = Self { config: config(), store: FlashStore::open(flash), told, attempt: 0 };
        world.boot().expect("nothing was kept yet");
        world
    }

    /// Power on: what every zone finds must be what was kept, or was begun since.
    fn boot(&mut self) -> Finding {
        let mut flash = self.store.clone().release();
        flash.power_on();
        if flash.misused() {
            return Err("a word was programmed twice".into());
        }
        self.store = FlashStore::open(flash);
        for (index, told) in self.told.iter_mut().enumerate() {
            match self.store.stored(zone(index), self.config.ledger_plan()) {
                Stored::Found(Record { number, image }) => {
                    if told.kept != Some(image) && !told.begun.contains(&image) {
                        return Err(format!("zone {index} found neither old nor new: {number:?}"));
                    }
                    told.number = Some(number);
                }
                Stored::Lost(number) => {
                    if told.kept.is_some() {
                        return Err(format!("zone {index} lost its record"));
                    }
                    // As a boot does.
                    let epoch = number.epoch + 1;
                    told.number = Some(RecordNumber { epoch, ..number });
                }
            }
            let found = self.store.settings(zone(index));
            let begun = found.is_some_and(|found| told.settings_begun.contains(&found));
            if found != told.settings && !begun {
                return Err(format!("zone {index} found other settings: {found:?}"));
            }
        }
        Ok(())
    }

    /// Does a deed. `Ok(false)`: the power went.
    fn perform(&mut self, deed: &Deed) -> Result<bool, String> {
        self.attempt += 1;
        let (plan, drives) = (self.config.ledger_plan(), [Drive::default(); ZONES]);
        let result = match *deed {
            Deed::Boot => {
                self.boot()?;
                return Ok(true);
            }
            Deed::Record(zone, image) => {
                let told = &mut self.told[usize::from(zone.get())];
                let image = Image { since_stance: Millis(self.attempt), ..image };
                let number = told.number.expect("booted");
                let number = RecordNumber { sequence: number.sequence + 1, ..number };
                told.begun.push(image);
                let result = self.store.zone(zone, plan, &drives).put(&Record { number, image });
                if result.is_ok() {
                    (told.number, told.kept) = (Some(number), Some(image));
                    told.begun.clear();
                }
                result.map(|_| ())
            }
            Deed::Settings(zone, settings) => {
                let told = &mut self.told[usize::from(zone.get())];
                let settings = Settings { soak: Some(Millis(self.attempt)), ..settings };
                told.settings_begun.push(settings);
                let result = self.store.zone(zone, plan, &drives).put_settings(&settings);
                if result.is_ok() {
                    told.settings = Some(settings);
                    told.settings_begun.clear();
                }
                result
            }
        };
        match result {
            Ok(()) => Ok(true),
            Err(_) if self.store.flash().is_gone() => Ok(false),
            Err(error) => Err(error.to_string()),
        }
    }

    fn perform_all(&mut self, deeds: &[Deed]) -> Finding {
        for deed in deeds {
            if !self.perform(deed)? {
                return Err("cut without a cut".into());
            }
        }
        self.boot()
    }

    /// Cuts at every unit of work of every deed, `depth` times on each other. After the last,
    /// goes on with the next `tail` deeds, beginning with the one that was cut.
    fn cut_everywhere(
        mut self,
        deeds: &[Deed],
        depth: u32,
        tail: usize,
        seed: u64,
        counts: &mut Counts,
    ) -> Finding {
        for at in 0..deeds.len() {
            for budget in 0.. {
                let mut cut = self.clone();
                let seed = seed.wrapping_mul(31).wrapping_add(at as u64 * 1_009 + budget);
                cut.store.flash().reseed(seed);
                cut.store.flash().set_budget(Some(budget));
                if cut.perform(&deeds[at])? {
                    cut.store.flash().set_budget(None);
                    self = cut;
                    break;
                }
                counts.cuts += 1;
                let place = |error| format!("deed {at}, unit {budget}: {error}");
                cut.boot().map_err(place)?;
                if depth > 1 {
                    let deeds = &deeds[at..];
                    cut.cut_everywhere(deeds, depth - 1, tail, seed, counts).map_err(place)?;
                } else {
                    let end = deeds.len().min(at + tail);
                    cut.perform_all(&deeds[at..=at]).map_err(place)?;
                    // What only reads well for a while is found out by the boots that follow.
                    cut.boot().and_then(|()| cut.boot()).map_err(place)?;
                    cut.perform_all(&deeds[at..end]).map_err(place)?;
                }
            }
        }
        self.boot()
    }
}

/// Deeds of `zones` devices whose records are those of a real zone, with boots and changes of
/// settings in between.
fn deeds(zones: usize, length: usize) -> Vec<Deed> {
    let records = device::records(&config(), MockFlash::<4_096, 4, 2>::new(7), 40);
    // Openings are among them, each intended before it is closed.
    assert!(records.iter().take(8).any(|record| record.image.guard.unclosed.is_some()));
    let mut deeds = vec![];
    for (count, record) in records.iter().enumerate() {
        deeds.push(Deed::Record(zone(count % zones), record.image));
        if count % 5 == 3 {
            deeds.push(Deed::Boot);
        }
        if count % 9 == 2 {
            let start = Some(Moisture::from_centi(2_000 + count as u16));
            deeds.push(Deed::Settings(
                zone(count % zones),
                Settings { start, ..Settings::default() },
            ));
        }
    }
    deeds.truncate(length);
    deeds
}

/// Two zones, thirteen slots a page, words of eight bytes.
type Common = MockFlash<1_472, 8, 2>;
/// One zone, nine slots a page, words of 16 bytes: a page turn within a few records.
type Tiny = MockFlash<1_024, 16, 2>;

#[test]
fn one_cut_everywhere_leaves_old_or_new() {
    let mut counts = Counts::default();
    let world = World::<Common, 2>::new(Common::new(1));
    world.cut_everywhere(&deeds(2, 70), 1, 20, 1, &mut counts).unwrap();
    assert_eq!(counts, Counts { cuts: 3_132 });
}

#[test]
fn two_cuts_everywhere_leave_old_or_new() {
    let mut counts = Counts::default();
    let world = World::<Tiny, 1>::new(Tiny::new(2));
    world.cut_everywhere(&deeds(1, 16), 2, 6, 2, &mut counts).unwrap();
    assert_eq!(counts, Counts { cuts: 64_906 });
}

/// Cuts one after the other, at places drawn from a seed, until the deeds are done; gives how
/// many there were.
fn sampled<F: Powered, const ZONES: usize>(
    flash: F,
    deeds: &[Deed],
    seed: u64,
    cuts: u32,
) -> Result<u32, String> {
    let mut world = World::<F, ZONES>::new(flash);
    let (mut left, mut random) = (cuts, seed);
    let mut at = 0;
    while at < deeds.len() {
        // Constants of Knuth's MMIX generator.
        random =
            random.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        let budget = (random >> 33) % [3, 30, 120, 400][(random >> 61) as usize % 4];
        world.store.flash().set_budget((left > 0).then_some(budget));
        let place = |at, error| format!("seed {seed}, deed {at}, unit {budget}: {error}");
        while at < deeds.len() && world.perform(&deeds[at]).map_err(|error| place(at, error))? {
            at += 1;
        }
        if at < deeds.len() {
            left -= 1;
            world.boot().map_err(|error| place(at, error))?;
        }
    }
    world.boot()?;
    Ok(cuts - left)
}

#[test]
fn three_cuts_leave_old_or_new() {
    let (one, two) = (deeds(1, 30), deeds(2, 40));
    let mut cuts = 0;
    for seed in 0..1_500 {
        cuts += sampled::<_, 1>(Tiny::new(seed), &one, seed, 3).unwrap();
        cuts += sampled::<_, 2>(MockFlash::<1_472, 8, 3>::new(seed), &two, seed, 3).unwrap();
    }
    assert_eq!(cuts, 5_546);
}

/// A supply that fades: cut after cut until every page has been filled with ruins.
#[test]
fn cut_after_cut_leaves_old_or_new() {
    let (one, two, four) = (deeds(1, 30), deeds(2, 40), deeds(4, 60));
    let mut cuts = 0;
    for seed in 0..60 {
        cuts += sampled::<_, 1>(Tiny::new(seed), &one, seed, 120).unwrap();
        cuts += sampled::<_, 4>(MockFlash::<2_364, 1, 2>::new(seed), &four, seed, 60).unwrap();
        cuts += sampled::<_, 2>(MockFlash::<2_080, 32, 2>::new(seed), &two, seed, 60).unwrap();
    }
    assert_eq!(cuts, 3_862);
}

/// Whatever an earlier program left in the pages is no record, and gives way.
#[test]
fn noise_is_no_record() {
    let deeds = deeds(2, 40);
    for seed in 0..50 {
        let mut flash = Common::new(seed);
        flash.fill_with_noise();
        World::<Common, 2>::new(flash).perform_all(&deeds).unwrap();
    }
}

/// A cut may leave a record legible only later, when its number has been given again: of two with
/// one number the later written is the one, in one page or across two.
#[test]
fn of_two_with_one_number_the_later_counts() {
    let config = config();
    let plan = config.ledger_plan();
    let Some(Deed::Record(_, image)) = deeds(1, 1).pop() else { panic!("a record comes first") };
    let mut store = FlashStore::<Tiny, 1>::open(Tiny::new(6));
    let closed = [Drive::default()];
    for sequence in 1..30 {
        let number = RecordNumber { epoch: 1, sequence };
        for written in 1..=3 {
            let image = Image { since_stance: Millis(written), ..image };
            let record = Record { number, image };
            assert_eq!(store.zone(zone(0), plan, &closed).put(&record), Ok(number));
            assert_eq!(store.stored(zone(0), plan), Stored::Found(record));
        }
    }
    assert!(store.flash().erases() > 10);
}

/// Pages are erased in turn: none wears before the others, over resets too.
#[test]
fn pages_wear_alike() {
    const PAGES: usize = 5;
    const PAGE: usize = 1024;
    let config = config();
    let plan = config.ledger_plan();
    let Some(Deed::Record(_, image)) = deeds(1, 1).pop() else { panic!("a record comes first") };
    let mut store = FlashStore::<MockFlash<PAGE, 4, PAGES>, 1>::open(MockFlash::new(8));
    let (mut begun, mut heads) = ([0_u32; PAGES], [[0xFF; 8]; PAGES]);
    for sequence in 1..500 {
        let record = Record { number: RecordNumber { epoch: 1, sequence }, image };
        store.zone(zone(0), plan, &[Drive::default()]).put(&record).expect("kept");
        if sequence % 50 == 0 {
            // A reset forgets which page was being filled, and finds it.
            store = FlashStore::open(store.flash().clone());
        }
        for (page, head) in heads.iter_mut().enumerate() {
            let before = *head;
            store.flash().clone().read(page * PAGE, head).expect("within the flash");
            begun[page] += u32::from(*head != before);
        }
    }
    let (least, most) = (begun.iter().min().unwrap(), begun.iter().max().unwrap());
    assert!(*least >= 5 && most - least <= 1, "pages begun: {begun:?}");
}

/// An erase that does nothing is noticed, costs one attempt, and loses nothing.
#[test]
fn an_idle_erase_is_noticed() {
    let deeds = deeds(1, 40);
    let mut world = World::<Tiny, 1>::new(Tiny::new(4));
    let mut refused = 0;
    for deed in &deeds {
        world.store.flash().idle_erases(1);
        if let Err(error) = world.perform(deed) {
            assert_eq!(error, StoreError::<()>::NotErased.to_string());
            refused += 1;
            assert!(world.perform(deed).unwrap());
        }
    }
    world.boot().unwrap();
    assert!(refused > 3, "{refused} pages were begun");
}

/// One flipped bit in the pages, however full they are, costs at most the record it hits, and
/// never the next.
#[test]
fn a_flipped_bit_costs_at_most_one_record() {
    let config = config();
    let plan = config.ledger_plan();
    let mut older = 0;
    for length in 20..32 {
        let mut world = World::<Tiny, 1>::new(Tiny::new(3));
        world.perform_all(&deeds(1, length)).unwrap();
        let whole = world.store.clone().stored(ZoneIndex::FIRST, plan);
        let Stored::Found(newest) = whole else { panic!("{whole:?}") };
        for at in 0..2 * 1_024 {
            let mut flash = world.store.clone().release();
            flash.rot(at, (at % 8) as u8);
            let mut store = FlashStore::<Tiny, 1>::open(flash);
            match store.stored(ZoneIndex::FIRST, plan) {
                Stored::Found(found) => {
                    let behind = newest.number.sequence - found.number.sequence;
                    assert!(behind <= 1, "{length} deeds, byte {at}: {behind} behind");
                    older += u32::from(found != newest);
                }
                Stored::Lost(number) => panic!("{length} deeds, byte {at}: lost {number:?}"),
            }
            // It goes on.
            let sequence = newest.number.sequence + 1;
            let number = RecordNumber { sequence, ..newest.number };
            let mut zone = store.zone(ZoneIndex::FIRST, plan, &[Drive::default()]);
            let put = zone.put(&Record { number, image: newest.image });
            assert_eq!(put, Ok(number), "{length} deeds, byte {at}");
        }
    }
    // The newest stands in 112 bytes, at times twice.
    assert!((672..=1_344).contains(&older), "{older}");
}

/// All records gone but their heads: the numbers go on above them.
#[test]
fn a_lost_record_still_tells_its_number() {
    let mut world = World::<MockFlash<2_048, 4, 2>, 2>::new(MockFlash::new(3));
    world.perform_all(&deeds(2, 20)).unwrap();
    let highest = world.told[1].number.expect("a number");
    let mut flash = world.store.release();
    // Byte 40 of every slot of both pages: the 12 bytes of the page's head come first.
    for page in [0, 2_048] {
        for slot in 0..18 {
            flash.rot(page + 12 + slot * 112 + 40, 3);
        }
    }
    let mut store = FlashStore::<_, 2>::open(flash);
    assert_eq!(store.stored(zone(1), config().ledger_plan()), Stored::Lost(highest));
}

#[test]
fn nothing_is_written_while_any_valve_is_open() {
    let config = config();
    let plan = config.ledger_plan();
    let mut world = World::<Common, 2>::new(Common::new(3));
    world.perform_all(&deeds(2, 20)).unwrap();
    let Stored::Found(record) = world.store.stored(zone(0), plan) else { panic!("lost") };
    let open = Drive { on: true, ..Drive::default() };
    // A write would spend from this and fall dead.
    world.store.flash().set_budget(Some(0));
    for drives in [[open, Drive::default()], [Drive::default(), open]] {
        let mut store = world.store.zone(zone(0), plan, &drives);
        assert_eq!(store.put(&record), Err(StoreError::ValveOpen));
        assert_eq!(store.put_settings(&Settings::default()), Err(StoreError::ValveOpen));
    }
    assert!(!world.store.flash().is_gone());
    world.store.flash().set_budget(None);
    let closed = [Drive::default(); 2];
    let older = RecordNumber { sequence: record.number.sequence - 1, ..record.number };
    let mut store = world.store.zone(zone(0), plan, &closed);
    assert_eq!(store.put(&Record { number: older, ..record }), Err(StoreError::Older));
    let mut store = world.store.zone(zone(2), plan, &closed);
    assert_eq!(store.put(&record), Err(StoreError::NoSuchZone));
}

/// A firmware that counts in another unit finds no less spent.
#[test]
fn a_ledger_counted_in_another_unit_does_not_shrink() {
    let fine = config();
    // 65 535 units of 64 ms are 69.9 min: above that a unit is 128 ms.
    let mut coarse = trough();
    coarse.limits.per_day = Millis::from_mins(100);
    let coarse = ZoneConfig::check(coarse).expect("100 min");
    assert_eq!(fine.ledger_plan().unit(), Millis(64));
    assert_eq!(coarse.ledger_plan().unit(), Millis(128));
    let mut world = World::<Common, 2>::new(Common::new(3));
    world.perform_all(&deeds(2, 60)).unwrap();
    let mut used = |config: &CheckedZone| match world.store.stored(zone(0), config.ledger_plan()) {
        Stored::Found(record) => u32::from(record.image.guard.ledger.used()),
        Stored::Lost(number) => panic!("lost {number:?}"),
    };
    let (in_fine, in_coarse) = (used(&fine), used(&coarse));
    assert!(in_fine > 0 && 2 * in_coarse >= in_fine, "{in_fine}, {in_coarse}");
    // Each of the 25 slots is rounded up by less than one coarse unit.
    assert!(2 * in_coarse < in_fine + 50, "{in_fine}, {in_coarse}");
}

#[test]
fn this_check_notices_a_store_that_checks_no_crc() {
    let world = World::<_, 1>::new(NeverChecked::new(Tiny::new(2)));
    let found = world.cut_everywhere(&deeds(1, 16), 1, 6, 2, &mut Counts::default());
    let found = found.unwrap_err();
    assert!(found.contains("neither old nor new"), "{found}");
}

#[test]
fn this_check_notices_a_store_that_erases_too_soon() {
    let world = World::<_, 1>::new(ErasedTooSoon::new(Tiny::new(2)));
    // As long as there is power, nothing tells it from a sound one.
    let mut whole = world.clone();
    for deed in deeds(1, 16).iter().filter(|deed| !matches!(deed, Deed::Boot)) {
        assert!(whole.perform(deed).unwrap());
    }
    let found = world.cut_everywhere(&deeds(1, 16), 1, 6, 2, &mut Counts::default());
    assert!(found.unwrap_err().contains("lost its record"));
}

#[test]
fn why_a_record_was_not_kept_can_be_read_by_a_person() {
    let told = [
        StoreError::Flash("the bus is stuck"),
        StoreError::NotReadBack,
        StoreError::NotErased,
        StoreError::ValveOpen,
        StoreError::Older,
        StoreError::NoRoom,
        StoreError::NoSuchZone,
    ]
    .map(|error| error.to_string());
    assert!(told[0].contains("the bus is stuck"));
    for (index, words) in told.iter().enumerate() {
        assert!(words.split(' ').count() >= 4 && !told[..index].contains(words), "{words}");
    }
}
