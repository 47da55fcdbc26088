//! Chain: the whole history of one block, swept forward and back until each set agrees with all others (F-08).
//!
//! Expectation propagation: each set is replaced by a Gaussian [`Site`]. The filter gives first sites; a sweep goes
//! back from the last set to the first, gives each set the belief that all other sets make (the cavity), takes the
//! moments of what the set makes of it, and renews its site; then the filter runs again with the new sites. Source:
//! Minka 2001 (from memory); checked against a fixed point computed apart in `tests/smoothing.rs`.

use std::ops::Range;

use crate::linear::Moments;
use crate::logistic::{Pair, PairUpdate};
use crate::smooth::message::{Message, NO_PAIR, Passage};
use crate::smooth::site::Site;
use crate::state::{BIAS, Entry};

/// One set of a chain, as one block hears it.
pub trait Word {
    /// The linear form of the state it speaks of, as (coordinate, weight).
    fn row(&self) -> &[(usize, f64)];

    /// True when it speaks of the reporting bias ([`BIAS`]) too.
    fn speaks_of_bias(&self) -> bool;

    /// Belief about (form, bias) once it is heard, and the logarithm of how likely it was. Only the form counts
    /// unless it speaks of the bias.
    fn hear(&self, before: &Pair) -> PairUpdate;
}

#[derive(Debug, Clone)]
struct Heard<W> {
    word: W,
    site: Site,
    passage: Passage,
    cavity: Pair,
}

impl<W: Word> Heard<W> {
    fn second(&self) -> Option<usize> {
        self.word.speaks_of_bias().then_some(BIAS)
    }

    /// A new site from what all other sets say; returns how far the belief moves: the change of a mean in standard
    /// deviations or of a variance in its own size, whichever is the most.
    fn renew(&mut self) -> f64 {
        let joint = self.word.speaks_of_bias();
        let before = self.site.applied(&self.cavity);
        self.site = Site::between(&self.cavity, &self.word.hear(&self.cavity).posterior, joint);
        let after = self.site.applied(&self.cavity);
        let moved = |k: usize| {
            let (was, is) = (before.covariance[2 * k], after.covariance[2 * k]);
            if is <= 0.0 {
                return 0.0;
            }
            let of_mean = (after.mean[k] - before.mean[k]).abs() / is.sqrt();
            of_mean.max((is - was).abs() / is)
        };
        if joint { moved(0).max(moved(1)) } else { moved(0) }
    }
}

/// One session: the entry into it, the place of its first set, and the filter's belief between the two.
#[derive(Debug, Clone)]
struct Visit {
    entry: Entry,
    first: usize,
    entered: Moments,
}

/// The history of one block.
#[derive(Debug, Clone)]
pub struct Chain<W> {
    start: Moments,
    visits: Vec<Visit>,
    heard: Vec<Heard<W>>,
}

impl<W: Word> Chain<W> {
    /// From the belief before the first session, the sets in order, and for each session the entry into it and the
    /// place of its first set. One forward pass of the filter gives the first sites.
    #[must_use]
    pub fn new(start: Moments, words: Vec<W>, sessions: impl IntoIterator<Item = (Entry, usize)>) -> Self {
        let blank = |word| Heard { word, site: Site::default(), passage: Passage::BLANK, cavity: NO_PAIR };
        let heard = words.into_iter().map(blank).collect();
        let visit = |(entry, first)| Visit { entry, first, entered: start.clone() };
        let visits = sessions.into_iter().map(visit).collect();
        let mut chain = Self { start, visits, heard };
        chain.forward(|heard| {
            heard.cavity = heard.passage.before;
            heard.renew();
        });
        chain
    }

    /// A set, and the belief about its (form, bias) that all other sets made in the last sweep.
    #[must_use]
    pub fn word(&self, at: usize) -> (&W, &Pair) {
        (&self.heard[at].word, &self.heard[at].cavity)
    }

    /// A set, to be told otherwise from the next sweep on.
    pub fn word_mut(&mut self, at: usize) -> &mut W {
        &mut self.heard[at].word
    }

    /// One sweep. Returns how far the furthest belief about a set moved: the change of its mean in standard
    /// deviations or of its variance in its own size.
    pub fn sweep(&mut self) -> f64 {
        let mut furthest = 0.0_f64;
        self.backward(|heard| furthest = furthest.max(heard.renew()), |_, _| {});
        self.forward(|_| {});
        furthest
    }

    /// The belief all sets together give about the state in each session, in order.
    #[must_use]
    pub fn hindsight(&mut self) -> Vec<Moments> {
        let mut moments = Vec::with_capacity(self.visits.len());
        self.backward(|_| {}, |visit, message| moments.push(message.hindsight(&visit.entered)));
        moments.reverse();
        moments
    }

    /// Logarithm of the probability of all sets, as expectation propagation has it: to first order it does not depend
    /// on how far the sweeps have come.
    #[must_use]
    pub fn log_evidence(&mut self) -> f64 {
        let mut sum = 0.0;
        self.backward(|heard| sum += log_evidence(heard), |_, _| {});
        sum
    }

    /// The filter, from the first set to the last; `at_set` runs before the set's site is taken in.
    fn forward(&mut self, mut at_set: impl FnMut(&mut Heard<W>)) {
        let mut state = self.start.clone();
        for at in 0..self.visits.len() {
            let sets = self.sets_of(at);
            let visit = &mut self.visits[at];
            visit.entry.apply(&mut state.mean, &mut state.covariance);
            visit.entered.clone_from(&state);
            for heard in &mut self.heard[sets] {
                heard.passage.look(&state, heard.word.row(), heard.second());
                at_set(heard);
                heard.passage.take_in(&mut state, &heard.site);
            }
        }
    }

    /// From the last set to the first; `at_set` runs when the set's cavity is known, `at_entry` at a session's start.
    fn backward(
        &mut self,
        mut at_set: impl FnMut(&mut Heard<W>),
        mut at_entry: impl FnMut(&Visit, &Message),
    ) {
        let mut message = Message::silent(self.start.mean.len());
        for at in (0..self.visits.len()).rev() {
            let sets = self.sets_of(at);
            for heard in self.heard[sets].iter_mut().rev() {
                let forms = (heard.word.row(), heard.second());
                let (cavity, hanging) = message.leave_out(&heard.passage, &heard.site, forms);
                heard.cavity = cavity;
                at_set(heard);
                message.put_in(&heard.site, (&cavity, &hanging));
            }
            at_entry(&self.visits[at], &message);
            message.leave(&self.visits[at].entry);
        }
    }

    /// Places of the sets of a session.
    fn sets_of(&self, visit: usize) -> Range<usize> {
        let end = self.visits.get(visit + 1).map_or(self.heard.len(), |next| next.first);
        self.visits[visit].first..end
    }
}

/// A set's share of the evidence: the logarithm of its own mass over the cavity, less what its site has there, plus
/// what the site has over the filter's belief. Over a whole history the last are the mass of all sites together.
fn log_evidence<W: Word>(heard: &Heard<W>) -> f64 {
    let own = heard.word.hear(&heard.cavity).log_mass;
    own - heard.site.log_mass(&heard.cavity) + heard.site.log_mass(&heard.passage.before)
}
