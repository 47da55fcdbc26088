//! Spec: a set in a few small numbers, so that a failing list of operations shrinks to something a person can read.

use nextrung_domain::draft::{Choice, SetDraft};
use nextrung_domain::ids::RungRef;
use nextrung_domain::ladder::Rung;
use nextrung_domain::measure::Unit;
use nextrung_domain::stop::{Purpose, Stop};

use crate::world::{model, parts};

/// Rungs of ladders that share abilities and of some that do not; reps, holding and lowering.
const RUNGS: [&str; 10] = [
    "pull/pull-up",
    "pull/archer",
    "pull/pull-up-lowering",
    "row/row-60",
    "muscle-up/ring-muscle-up",
    "press/wall-press",
    "press/pike-press",
    "hand-balance/free-straddle",
    "front-lever/tuck",
    "one-leg-squat/box-low",
];
/// Ways in which a set of a spec ends.
const ENDINGS: u8 = 10;
/// Values of [`Spec::what`] that mean something different.
pub(crate) const WHATS: u8 = 10 * ENDINGS;

/// A set in a few small numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Spec {
    pub(crate) key: u16,
    pub(crate) day: i32,
    pub(crate) session: u8,
    pub(crate) number: u8,
    pub(crate) what: u8,
    pub(crate) done: u8,
}

/// The key of a set.
pub(crate) fn key(number: u16) -> String {
    format!("set-{number}")
}

fn rung(name: &str) -> &'static Rung {
    let name = RungRef::parse(name).expect("a rung's name");
    model().catalog.rung(model().catalog.find(&name).expect("a rung"))
}

impl Spec {
    /// The set as a client sends it; always a sound one.
    pub(crate) fn draft(self) -> SetDraft {
        let name = RUNGS[usize::from(self.what / ENDINGS) % RUNGS.len()];
        let rung = rung(name);
        let step = if rung.unit == Unit::Reps { 1 } else { 3 };
        let done = i64::from(self.done) * step;
        let plain = SetDraft {
            client_set_id: key(self.key),
            training_date: Some(parts(self.day)),
            session: self.session.into(),
            set_number: self.number.into(),
            rung: name.to_owned(),
            purpose: Choice::Known(Purpose::Working),
            done: Some((rung.unit, done)),
            ..SetDraft::default()
        };
        self.ended(plain, rung, done)
    }

    fn ended(self, plain: SetDraft, rung: &Rung, done: i64) -> SetDraft {
        let failed = |stop, target: i64| SetDraft {
            planned_target: Some(target),
            stop: Choice::Known(stop),
            ..plain.clone()
        };
        let reached = SetDraft { done: Some((rung.unit, done.max(1))), ..failed(Stop::Target, done.max(1)) };
        let of = |purpose, draft: SetDraft| SetDraft { purpose: Choice::Known(purpose), ..draft };
        match self.what % ENDINGS {
            0 => reached,
            1 => SetDraft {
                shadings: rung.shadings.first().map(ToString::to_string).into_iter().collect(),
                ..reached
            },
            2 => SetDraft {
                load_kg: rung.load_share.is_some().then_some(7.5),
                rest_seconds: Some(150),
                ..failed(Stop::Strength, done + 1)
            },
            3 => failed(Stop::Strength, done + 2),
            4 => SetDraft { reps_in_reserve: Some(2), stop: Choice::Known(Stop::Chosen), ..plain },
            5 => of(Purpose::Test, SetDraft { rest_seconds: Some(60), ..failed(Stop::Failed, done + 3) }),
            6 => SetDraft { pain: Some(1 + done % 10), ..failed(Stop::Pain, done + 1) },
            7 => of(Purpose::Attempt, failed(Stop::Balance, done + 1)),
            8 => {
                of(Purpose::Practice, SetDraft { note: "wobbly".to_owned(), ..failed(Stop::Line, done + 1) })
            }
            _ => of(Purpose::Free, failed(Stop::Interrupted, done + 2)),
        }
    }
}
