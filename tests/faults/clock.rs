//! Clock: the time of day jumps back and forth; the log's order, its answers and prescriptions do not.

use std::sync::Arc;
use std::time::{Duration, SystemTime, UNIX_EPOCH};

use nextrung_api::v1;
use nextrung_prescribe::dice::Dice;
use tonic::Code;

use crate::audit::{DAY, athletes, audit};
use crate::call::{create, name, reason, send};
use crate::check::Finding;
use crate::disk::Disk;
use crate::ledger::{Ledger, Sent, Wish, acknowledged_sets};
use crate::load::{Clients, Load, record};
use crate::reading::{View, differences, view};
use crate::scale::{self, Figures};
use crate::served::Alone;

const A_DAY: u64 = 86_400;
/// Days from 1970-01-01 to 2026-06-01, around which every clock here stands: after all training days.
const JUNE: u64 = 20_605;
/// Longest jump, days either way.
const FAR: usize = 60;

/// A service that reads a clock which this sets.
struct Timed {
    alone: Alone,
    disk: Disk,
}

impl Timed {
    fn start() -> Self {
        let mut disk = None;
        let alone = Alone::with(|folder, launch| {
            launch.today = None;
            let under = Disk::under(launch, folder, None);
            set(&under, JUNE * A_DAY);
            disk = Some(under);
        });
        Self { alone, disk: disk.expect("it was started") }
    }

    /// Jumps to any moment around June.
    fn jump(&self, dice: &mut Dice) {
        let within = u64::try_from(dice.below(2 * FAR * 86_400)).expect("seconds");
        set(&self.disk, (JUNE - u64::try_from(FAR).expect("days")) * A_DAY + within);
    }
}

/// Sets the clock to seconds since 1970.
fn set(disk: &Disk, seconds: u64) {
    #[expect(clippy::disallowed_methods, reason = "the shift is from the machine's own clock")]
    let now = SystemTime::now().duration_since(UNIX_EPOCH).expect("after 1970");
    let wanted = Duration::from_secs(seconds);
    let (by, is_back) = if wanted < now { (now - wanted, true) } else { (wanted - now, false) };
    disk.shift_clock(by, is_back);
}

/// The same requests one after another, on a clock that jumps before each or on one that stands.
async fn one_after_another(count: usize, jumps: bool, day: Option<v1::Date>) -> View {
    let timed = Timed::start();
    let (mut dice, mut jumping) = (Dice::new(scale::seed(), 6_000), Dice::new(scale::seed(), 6_001));
    let channel = timed.alone.fleet.channel(0).await;
    create(channel.clone(), 3).await.expect("athletes");
    for number in 0..count {
        if jumps {
            timed.jump(&mut jumping);
        }
        let mut sent = record(&mut dice, number, 3);
        if let (Wish::Record(sets), Some(day)) = (&mut sent.wish, day) {
            sets.iter_mut().for_each(|set| set.training_date = Some(day));
        }
        send(channel.clone(), &sent).await.expect("an answer");
    }
    set(&timed.disk, JUNE * A_DAY);
    view(channel, &athletes(3), DAY).await.expect("a view")
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn jumps_of_the_clock_change_no_order_and_no_prescription() {
    let figures = Figures::begin("jumps of the clock by up to 60 days either way, one request after another");
    let count = scale::of(60, 2000);
    let (jumped, stood) =
        (one_after_another(count, true, None).await, one_after_another(count, false, None).await);
    figures.tell(&[("jumps", count), ("requests answered", 2 * count)], &differences(&jumped, &stood));
}

/// A service that orders training by arrival would see other days.
#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn planted_training_on_the_day_of_arrival_is_found() {
    let arrival = Some(v1::Date { year: 2026, month: 3, day: 9 });
    let (of_training, of_arrival) =
        (one_after_another(30, false, None).await, one_after_another(30, false, arrival).await);
    assert!(!differences(&of_training, &of_arrival).is_empty());
    let same = |athlete: &String| of_training.prescriptions[athlete] == of_arrival.prescriptions[athlete];
    assert!(!of_training.prescriptions.keys().all(same), "prescriptions see it too");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn jumps_of_the_clock_under_load_lose_nothing_and_double_nothing() {
    let figures = Figures::begin("jumps of the clock by up to 60 days either way, 16 clients");
    let timed = Timed::start();
    let (ledger, load) =
        (Arc::new(Ledger::default()), Load { echoes: 0.2, gives_up: 0.0, ..Load::default() });
    let mut dice = Dice::new(scale::seed(), 6_002);
    let mut clients = Clients::start(&timed.alone.fleet, &ledger, load, "c").await;
    let jumps = scale::of(20, 2000);
    for _ in 0..jumps {
        clients.answered(1 + dice.below(15)).await;
        timed.jump(&mut dice);
    }
    clients.finish().await;
    let found: Vec<Finding> = audit(&timed.alone.fleet, &ledger, &timed.alone.place(), load.athletes).await;
    let sent = ledger.all();
    figures.tell(
        &[
            ("jumps", jumps),
            ("requests answered", ledger.count()),
            ("sets acknowledged", acknowledged_sets(&sent)),
        ],
        &found,
    );
}

/// Set back before a training day, the service refuses that day as one that is not there yet, and still answers a repeat of
/// what it did before.
#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn a_day_that_is_not_there_yet_is_refused_and_a_repeat_is_answered() {
    let timed = Timed::start();
    let channel = timed.alone.fleet.channel(0).await;
    create(channel.clone(), 1).await.unwrap();
    let mut dice = Dice::new(scale::seed(), 6_003);
    let (first, second): (Sent, Sent) = (record(&mut dice, 1, 1), record(&mut dice, 2, 1));
    let answered = send(channel.clone(), &first).await.unwrap();
    set(&timed.disk, (JUNE - 110) * A_DAY);
    let refused = send(channel.clone(), &second).await.expect_err("a day to come");
    assert_eq!((refused.code(), reason(&refused).as_deref()), (Code::InvalidArgument, Some("BAD_FIELDS")));
    assert_eq!(send(channel.clone(), &first).await.unwrap(), answered, "a repeat");
    set(&timed.disk, JUNE * A_DAY);
    let later = send(channel, &second).await.unwrap();
    assert_eq!(
        later.sequences.first(),
        answered.sequences.last().map(|last| last + 1).as_ref(),
        "{}",
        name("a0")
    );
}
