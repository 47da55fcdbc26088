//! Fold: state and history of one athlete at one point of the log.

use nextrung_capacity::filter::Scratch;
use nextrung_capacity::model::Model;
use nextrung_capacity::state::AthleteState;
use nextrung_domain::date::CivilDate;
use nextrung_domain::event::{EventBody, OrderKey, StoredEvent};
use nextrung_domain::profile::Profile;
use nextrung_prescribe::history::History;

use crate::set_log::{LoggedSet, SetLog};
use crate::tail::{TAIL_SETS, Tail};

/// Days of training between checkpoints.
const CHECKPOINT_DAYS: i32 = 28;

/// What a log comes to: a pure function of its ordered sets, the ladders and the parameters.
#[derive(Debug, Clone, PartialEq)]
pub struct Folded {
    /// Belief about the athlete.
    pub state: AthleteState,
    /// What was trained lately.
    pub history: History,
    /// The last set taken in.
    pub last: Option<OrderKey>,
}

impl Folded {
    /// Nothing taken in yet.
    pub fn new(model: &Model) -> Self {
        Self { state: AthleteState::new(&model.parameters), history: History::default(), last: None }
    }

    /// Takes in a set that comes after all others so far.
    pub fn take(&mut self, model: &Model, scratch: &mut Scratch, logged: &LoggedSet) {
        if let Some((task, done)) = model.read(&logged.set) {
            self.state.observe(model, scratch, (&task, &done));
        }
        self.remember(model, logged);
    }

    fn remember(&mut self, model: &Model, logged: &LoggedSet) {
        self.history.observe(&model.catalog, &logged.set);
        self.last = Some(logged.order_key());
    }

    /// Training date of the last set.
    pub fn last_date(&self) -> Option<CivilDate> {
        self.last.map(|key| key.place.date)
    }

    /// Bytes held, about.
    pub fn bytes(&self) -> usize {
        self.state.bytes() + self.history.bytes() + size_of::<Option<OrderKey>>()
    }
}

/// An earlier state, from which late sets can be replayed. The history of that time is left out: made again from the
/// log it costs next to nothing.
#[derive(Debug, Clone, PartialEq)]
pub struct Checkpoint {
    /// Belief after all sets up to the last.
    pub state: AthleteState,
    /// The last set taken in.
    pub last: OrderKey,
}

/// A fold at the head of a log, with one checkpoint behind it.
#[derive(Debug, Clone, PartialEq)]
pub struct Head {
    /// The fold over every set that counts.
    pub folded: Folded,
    /// The state at the end of an earlier 28-day period; nothing in the first one.
    pub checkpoint: Option<Box<Checkpoint>>,
    /// The profile in force.
    pub profile: Profile,
    /// Sequence of the first event: it tells the athlete from another one who had the name before.
    pub origin: u64,
    /// Sequence of the last event taken in.
    pub position: u64,
}

impl Head {
    /// Folds a whole log; nothing when the log has no profile, which no athlete's log lacks.
    pub fn of(model: &Model, log: &SetLog) -> Option<Self> {
        Self::with_tail(model, log).map(|(head, _)| head)
    }

    /// The same, with the log's tail.
    pub(crate) fn with_tail(model: &Model, log: &SetLog) -> Option<(Self, Tail)> {
        let profile = log.profile()?.clone();
        let (origin, position) = (log.origin(), log.position());
        let mut head = Self { folded: Folded::new(model), checkpoint: None, profile, origin, position };
        let tail = head.replay(model, log);
        Some((head, tail))
    }

    /// Takes in events that follow the head's position in the log, when they need nothing but the head: profiles, and
    /// sets that come after all others in training order. False when one of them does; the head is then spoilt.
    pub fn follow(&mut self, model: &Model, events: &[StoredEvent]) -> bool {
        let mut scratch = Scratch::default();
        for event in events {
            if event.sequence != self.position + 1 {
                return false;
            }
            self.position = event.sequence;
            match &event.body {
                EventBody::Profiled { profile } => self.profile = (**profile).clone(),
                EventBody::Recorded { set } => {
                    let logged = LoggedSet {
                        set: set.clone(),
                        first_sequence: event.sequence,
                        arrived_at_ms: event.arrived_at_ms,
                        status: crate::set_log::SetStatus::Active,
                    };
                    if self.folded.last.is_some_and(|last| logged.order_key() <= last) {
                        return false;
                    }
                    self.step(model, &mut scratch, &logged);
                }
                EventBody::Corrected { .. } | EventBody::Withdrawn { .. } => return false,
            }
        }
        true
    }

    /// The head of a changed log, replayed from the checkpoint when the change comes after it in training order. `from`
    /// is the earliest place, before or after the change, of any set that was added, corrected or withdrawn.
    pub fn rebuilt(&self, model: &Model, log: &SetLog, from: OrderKey) -> Self {
        self.rebuilt_with_tail(model, log, from).0
    }

    /// The same, with the log's tail.
    pub(crate) fn rebuilt_with_tail(&self, model: &Model, log: &SetLog, from: OrderKey) -> (Self, Tail) {
        let checkpoint = self.checkpoint.clone().filter(|c| c.last < from);
        let mut folded = Folded::new(model);
        if let Some(checkpoint) = &checkpoint {
            folded.state = checkpoint.state.clone();
        }
        let profile = log.profile().unwrap_or(&self.profile).clone();
        let (origin, position) = (log.origin(), log.position());
        let mut head = Self { folded, checkpoint, profile, origin, position };
        let tail = head.replay(model, log);
        (head, tail)
    }

    /// Takes in the sets that count; those up to the checkpoint are in the state already. Gives the tail of the log.
    fn replay(&mut self, model: &Model, log: &SetLog) -> Tail {
        let mut scratch = Scratch::default();
        let known = self.checkpoint.as_ref().map(|c| c.last);
        let sets: Vec<&LoggedSet> = log.ordered().into_iter().filter(|logged| logged.counts()).collect();
        let is_in_state = |logged: &&LoggedSet| known.is_some_and(|last| logged.order_key() <= last);
        let (in_state, rest) = sets.split_at(sets.partition_point(is_in_state));
        in_state.iter().for_each(|logged| self.folded.remember(model, logged));
        let (early, late) = rest.split_at(rest.len().saturating_sub(TAIL_SETS));
        early.iter().for_each(|logged| self.step(model, &mut scratch, logged));
        let before = self.folded.clone();
        late.iter().for_each(|logged| self.step(model, &mut scratch, logged));
        let late = late.iter().map(|logged| (*logged).clone()).collect();
        Tail::new(before, late, (self.profile.clone(), self.position))
    }

    fn step(&mut self, model: &Model, scratch: &mut Scratch, logged: &LoggedSet) {
        let period = |date: CivilDate| date.day_number().div_euclid(CHECKPOINT_DAYS);
        if let Some(last) = self.folded.last.filter(|last| period(last.place.date) != period(logged.set.date))
        {
            self.checkpoint = Some(Box::new(Checkpoint { state: self.folded.state.clone(), last }));
        }
        self.folded.take(model, scratch, logged);
    }

    /// Bytes held, about.
    pub fn bytes(&self) -> usize {
        let checkpoint = |c: &Checkpoint| c.state.bytes() + size_of::<OrderKey>();
        let kept = self.checkpoint.as_deref().map_or(0, checkpoint) + size_of::<usize>();
        self.folded.bytes() + kept + profile_bytes(&self.profile) + 2 * size_of::<u64>()
    }
}

/// Bytes a profile holds, about: an id is a pointer to its text and two counts.
fn profile_bytes(profile: &Profile) -> usize {
    let id = 4 * size_of::<usize>() + 16;
    let texts = profile.display_name.len()
        + profile.clearances.iter().map(|c| size_of_val(c) + c.by.len()).sum::<usize>()
        + profile.limits.bans.iter().map(|b| size_of_val(b) + 2 * id + b.reason.len()).sum::<usize>();
    let ids = profile.equipment.len() + 2 * profile.goals.len();
    size_of::<Profile>() + size_of_val(profile.goals.as_slice()) + ids * id + texts
}

/// The fold over the sets that count and were trained before `date`.
pub fn folded_before(model: &Model, log: &SetLog, date: CivilDate) -> Folded {
    let mut folded = Folded::new(model);
    let mut scratch = Scratch::default();
    for logged in log.ordered().into_iter().filter(|s| s.counts() && s.set.date < date) {
        folded.take(model, &mut scratch, logged);
    }
    folded
}
