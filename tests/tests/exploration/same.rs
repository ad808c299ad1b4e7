//! What stands for the real thing in the exploration is the same as the real thing.

use drydown::cutoff::{Cutoff, Handle, Sequence, Words};
use drydown::persist::{RecordNumber, Stored};
use drydown::quantity::Millis;
use drydown::zone::{Boot, BootCause, Drive, Inputs, Outcome, Zone};
use drydown_tests::adversary::Dice;
use drydown_tests::exploration::Driving;

use crate::scenes::{self, Form};

/// The same orders to the real cut-off and to what stands for it, and the same pins at every
/// interrupt, the same reports after every wait.
#[test]
fn the_drive_moves_as_the_cut_off_does() {
    let mut dice = Dice::new(1);
    for round in 0..300 {
        let run_down = if round % 2 == 0 { 0 } else { 500 };
        let tick = [10, 70, 150][round % 3];
        let words = Words::new();
        let sequence = Sequence { lead: Millis::ZERO, run_down: Millis(run_down) };
        let mut cutoff = Cutoff::new(&words, sequence);
        let mut handle = Handle::new(&words);
        let (mut driving, mut ticks) = (Driving::default(), 0_u32);
        let mut open = cutoff.tick(ticks).valve;
        let mut zone = Zone::boot(
            scenes::limits(Form::Quick).device,
            Boot::Start(BootCause::PowerOn),
            &Stored::Lost(RecordNumber::NONE),
            None,
        );
        let blank = zone.step(0, &Inputs::default());
        for _ in 0..200 {
            let (_, drive) = handle.sample();
            assert_eq!(drive, driving.sample());
            let outcome = answer(&blank, drive, &mut dice);
            handle.apply(&outcome);
            driving.apply(&outcome);
            let wait = tick * dice.below(40) as u32;
            let edges = driving.run(wait, tick, run_down);
            let (mut opened, mut closed) = (None, None);
            for passed in (tick..=wait).step_by(tick as usize) {
                let valve = cutoff.tick(ticks + passed).valve;
                match (open, valve) {
                    (false, true) => opened = Some(passed),
                    (true, false) => closed = Some(passed),
                    _ => {}
                }
                open = valve;
            }
            ticks += wait;
            assert_eq!((edges.opened, edges.closed), (opened, closed));
            assert_eq!(driving.is_open(), open);
        }
    }
}

/// A permit where nothing runs, otherwise a renewal or neither.
fn answer(blank: &Outcome, drive: Drive, dice: &mut Dice) -> Outcome {
    let path = drydown::guard::Path::Automatic;
    let length = Millis(1 + dice.below(4_000) as u32);
    let permits = !drive.on && dice.hit(2);
    Outcome {
        permit: permits.then_some(drydown::zone::Permit { length, path }),
        renew: !permits && dice.below(4) > 0,
        step_within: Millis(1 + dice.below(3_000) as u32),
        ..blank.clone()
    }
}
