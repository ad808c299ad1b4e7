//! A store of two zones over lives that end in the middle of a write.

use drydown::guard::Plan;
use drydown::persist::{FlashStore, Image, Record, RecordNumber, Store, Stored, ZoneIndex};
use drydown::quantity::Millis;
use drydown::zone::{Boot, BootCause, CheckedZone, Drive, Inputs, Zone};

use crate::configs;
use crate::flash::{MockFlash, Powered};

const ZONES: usize = 2;
/// Thirteen slots a page, the fewest for two zones.
type Flash = MockFlash<1_536, 8, 2>;

/// Bytes that say when a device writes a record of which zone, when it starts anew, and after how
/// much work of a write the power goes: each boot finds of every zone what was kept last or was
/// begun since.
///
/// # Panics
/// If one does not.
pub fn store_history(bytes: &[u8]) {
    let Some((&seed, deeds)) = bytes.split_first() else { return };
    let config = configs::trough().check().expect("an invented configuration");
    let mut device = Device::new(&config, Flash::new(u64::from(seed)));
    for deed in deeds.chunks_exact(2) {
        let zone = usize::from(deed[0]) % ZONES;
        match deed[0] / 64 {
            0 | 1 => device.write(zone, None),
            2 => device.write(zone, Some(u64::from(deed[1]))),
            _ => device.boot(),
        }
    }
    device.boot();
}

/// What a store was told of one zone.
struct Told {
    /// The number the zone goes on from.
    number: RecordNumber,
    kept: Option<Image>,
    /// Being written when the power went, since the last that was kept.
    begun: Vec<Image>,
}

struct Device {
    plan: Plan,
    store: FlashStore<Flash, ZONES>,
    told: [Told; ZONES],
    image: Image,
    /// Makes every record differ from the one before.
    attempt: u32,
}

impl Device {
    fn new(config: &CheckedZone, flash: Flash) -> Self {
        let lost = Stored::Lost(RecordNumber::NONE);
        let mut zone = Zone::boot(*config, Boot::Start(BootCause::PowerOn), &lost, None);
        let record = zone.step(1, &Inputs::default()).record.expect("a first record");
        let told = core::array::from_fn(|_| Told {
            number: RecordNumber::NONE,
            kept: None,
            begun: vec![],
        });
        let plan = *config.ledger_plan();
        Self { plan, store: FlashStore::open(flash), told, image: record.image, attempt: 0 }
    }

    fn boot(&mut self) {
        let mut flash = self.store.clone().release();
        flash.power_on();
        assert!(!flash.misused(), "a word was programmed twice");
        self.store = FlashStore::open(flash);
        for (index, told) in self.told.iter_mut().enumerate() {
            match self.store.stored(zone(index), &self.plan) {
                Stored::Found(Record { number, image }) => {
                    assert!(
                        told.kept == Some(image) || told.begun.contains(&image),
                        "zone {index} found neither old nor new: {number:?}"
                    );
                    told.number = number;
                }
                Stored::Lost(number) => {
                    assert!(told.kept.is_none(), "zone {index} lost its record");
                    // As a boot does.
                    told.number = RecordNumber { epoch: number.epoch + 1, ..number };
                }
            }
        }
    }

    /// Writes a record; with a budget of work the power goes when that is spent, and comes back.
    fn write(&mut self, index: usize, budget: Option<u64>) {
        self.attempt += 1;
        let image = Image { since_stance: Millis(self.attempt), ..self.image };
        let told = &mut self.told[index];
        let number = RecordNumber { sequence: told.number.sequence + 1, ..told.number };
        told.begun.push(image);
        self.store.flash().set_budget(budget);
        let closed = [Drive::default(); ZONES];
        let mut store = self.store.zone(zone(index), &self.plan, &closed);
        let result = store.put(&Record { number, image });
        self.store.flash().set_budget(None);
        match result {
            Ok(_) => {
                (told.number, told.kept) = (number, Some(image));
                told.begun.clear();
            }
            Err(_) if self.store.flash().is_gone() => self.boot(),
            Err(error) => panic!("zone {index}, with the power on: {error}"),
        }
    }
}

fn zone(index: usize) -> ZoneIndex {
    ZoneIndex::new(index as u8).expect("one of two")
}
