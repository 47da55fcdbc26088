//! Sets: one logged set, checked.

use serde::{Deserialize, Serialize};

use crate::date::CivilDate;
use crate::ids::{ClientSetId, RungRef, ShadingId};
use crate::measure::{Grams, Pain, Reserve, RestSeconds, SessionNumber, SetNumber, Tempo, Unit};
use crate::stop::{Purpose, Stop};

/// One set as it was done. Built only by [`crate::draft::SetDraft::check`]; equality is equality of content.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct SetEntry {
    /// The client's own key, unique within the athlete.
    #[serde(rename = "id")]
    pub client_set_id: ClientSetId,
    /// The day of training.
    pub date: CivilDate,
    /// Session of that day, from 1.
    pub session: SessionNumber,
    /// Set of that session, from 1, over all rungs.
    pub number: SetNumber,
    /// The rung trained.
    pub rung: RungRef,
    /// What the set was for.
    pub purpose: Purpose,
    /// Named changes to the rung, in id order.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub shadings: Vec<ShadingId>,
    /// The rung's unit when the set was recorded.
    pub unit: Unit,
    /// Clean units done.
    pub done: u16,
    /// The target set before the set, in the same unit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub target: Option<u16>,
    /// How the set ended.
    pub stop: Stop,
    /// Reps in reserve, as felt.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reserve: Option<Reserve>,
    /// Rest before the set.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rest: Option<RestSeconds>,
    /// Kilograms added (or removed, when negative), in grams.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub load: Option<Grams>,
    /// Body mass on the day, in grams; always present when `load` is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub body_mass: Option<Grams>,
    /// Tempo, kept for the coach; slow lowering that should count is a shading.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tempo: Option<Tempo>,
    /// Pain during the set.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pain: Option<Pain>,
    /// Free text.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note: String,
}

impl SetEntry {
    /// Where the set stands within its athlete's training; ties are broken by log sequence.
    pub fn place(&self) -> Place {
        Place { date: self.date, session: self.session, number: self.number }
    }

    /// True with a shading or with kilograms taken off: what was done then shows less than the plain rung would.
    pub fn is_eased(&self) -> bool {
        !self.shadings.is_empty() || self.load.is_some_and(|load| load.kg() < 0.0)
    }
}

/// Where a set stands: training date, session of the day, set of the session.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct Place {
    /// Training date.
    pub date: CivilDate,
    /// Session of the day.
    pub session: SessionNumber,
    /// Set of the session.
    pub number: SetNumber,
}
