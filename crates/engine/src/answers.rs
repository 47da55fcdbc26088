//! Answers: the prescriptions made last, so that the same question is not worked out twice.
//!
//! A prescription follows from the log, the day and the rules, and a log from its position. An app that shows a day,
//! shows it again and then keeps it asks the same thing three times.

use std::num::NonZeroUsize;
use std::sync::{Arc, Mutex, PoisonError};

use lru::LruCache;
use nextrung_domain::date::CivilDate;
use nextrung_domain::ids::AthleteRef;
use nextrung_prescribe::policy::Policy;
use nextrung_prescribe::prescription::Prescription;

/// Prescriptions kept in memory, one an athlete.
const KEPT: NonZeroUsize = NonZeroUsize::MIN.saturating_add(255);

/// What a prescription follows from, beside the athlete, the ladders and the parameters.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Question {
    pub(crate) position: u64,
    pub(crate) date: CivilDate,
    pub(crate) policy: Policy,
}

/// The last prescription of each of the athletes asked about last.
pub(crate) struct Answers {
    made: Mutex<LruCache<AthleteRef, Arc<(Question, Prescription)>>>,
}

impl Answers {
    pub(crate) fn new() -> Self {
        Self { made: Mutex::new(LruCache::new(KEPT)) }
    }

    /// The answer to the same question, if it was the last one about this athlete.
    pub(crate) fn to(&self, athlete: &AthleteRef, question: &Question) -> Option<Prescription> {
        let last = self.made.lock().unwrap_or_else(PoisonError::into_inner).get(athlete).cloned()?;
        (last.0 == *question).then(|| last.1.clone())
    }

    pub(crate) fn forget(&self, athlete: &AthleteRef) {
        drop(self.made.lock().unwrap_or_else(PoisonError::into_inner).pop(athlete));
    }

    pub(crate) fn keep(&self, athlete: &AthleteRef, question: Question, made: &Prescription) {
        let kept = Arc::new((question, made.clone()));
        self.made.lock().unwrap_or_else(PoisonError::into_inner).put(athlete.clone(), kept);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use nextrung_domain::ids::{AthleteId, RosterId};
    use nextrung_prescribe::prescription::Kind;

    fn made(date: CivilDate) -> Prescription {
        Prescription {
            date,
            policy_version: String::new(),
            model_version: String::new(),
            ladder_versions: Vec::new(),
            kind: Kind::Rest,
            headline: String::new(),
            items: Vec::new(),
            reasons: Vec::new(),
            hold_backs: Vec::new(),
            directions: Vec::new(),
            goals: Vec::new(),
            cautions: Vec::new(),
        }
    }

    #[test]
    fn only_the_same_question_is_answered() {
        let wren = AthleteRef {
            roster: RosterId::new("hall").expect("an id"),
            athlete: AthleteId::new("wren").expect("an id"),
        };
        let day = |number| CivilDate::from_day_number(number).expect("a day");
        let asked = Question { position: 7, date: day(20_000), policy: Policy::default() };
        let answers = Answers::new();
        assert_eq!(answers.to(&wren, &asked), None);
        answers.keep(&wren, asked.clone(), &made(asked.date));
        assert_eq!(answers.to(&wren, &asked), Some(made(asked.date)));
        let mut other_rules = asked.policy.clone();
        other_rules.strength_rest += 1;
        for other in [
            Question { position: 8, ..asked.clone() },
            Question { date: day(20_001), ..asked.clone() },
            Question { policy: other_rules, ..asked },
        ] {
            assert_eq!(answers.to(&wren, &other), None, "{other:?}");
        }
    }
}
