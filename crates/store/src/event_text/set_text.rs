//! Set text: a set read from its JSON without copying what a neighbouring set had too.
//!
//! The log of an athlete is read whole, thousands of sets at a time, and the names of rungs and days repeat from set to
//! set. The domain's own reading copies each of them twice; this one borrows the text and keeps the last value of each.

use std::borrow::Cow;
use std::error::Error;

use nextrung_domain::date::CivilDate;
use nextrung_domain::ids::{ClientSetId, RungRef, ShadingId};
use nextrung_domain::measure::{Grams, Pain, Reserve, RestSeconds, SessionNumber, SetNumber, Tempo, Unit};
use nextrung_domain::set::SetEntry;
use nextrung_domain::stop::{Purpose, Stop};
use serde::Deserialize;

/// The fields of [`SetEntry`] as its serialisation spells them.
#[derive(Deserialize)]
pub(super) struct SetText<'t> {
    id: &'t str,
    date: &'t str,
    session: SessionNumber,
    number: SetNumber,
    rung: &'t str,
    purpose: Purpose,
    #[serde(default, borrow)]
    shadings: Vec<&'t str>,
    unit: Unit,
    done: u16,
    target: Option<u16>,
    stop: Stop,
    reserve: Option<Reserve>,
    rest: Option<RestSeconds>,
    load: Option<Grams>,
    body_mass: Option<Grams>,
    tempo: Option<Tempo>,
    pain: Option<Pain>,
    #[serde(default, borrow)]
    note: Cow<'t, str>,
}

/// The value last made from a text.
struct Last<T> {
    text: String,
    value: Option<T>,
}

impl<T: Clone> Last<T> {
    const NONE: Self = Self { text: String::new(), value: None };

    fn get<E>(&mut self, text: &str, make: impl FnOnce(&str) -> Result<T, E>) -> Result<T, E> {
        if let Some(value) = self.value.as_ref().filter(|_| self.text == text) {
            return Ok(value.clone());
        }
        let value = make(text)?;
        self.text.clear();
        self.text.push_str(text);
        self.value = Some(value.clone());
        Ok(value)
    }
}

/// What the sets read so far had.
pub(super) struct Neighbours {
    date: Last<CivilDate>,
    rung: Last<RungRef>,
}

impl Neighbours {
    pub(super) const NONE: Self = Self { date: Last::NONE, rung: Last::NONE };

    /// The set of a text. Fails when an id or a date in it is none.
    pub(super) fn set(&mut self, text: SetText<'_>) -> Result<SetEntry, Box<dyn Error + Send + Sync>> {
        Ok(SetEntry {
            client_set_id: ClientSetId::new(text.id)?,
            date: self.date.get(text.date, CivilDate::parse)?,
            session: text.session,
            number: text.number,
            rung: self.rung.get(text.rung, RungRef::parse)?,
            purpose: text.purpose,
            shadings: text.shadings.into_iter().map(ShadingId::new).collect::<Result<_, _>>()?,
            unit: text.unit,
            done: text.done,
            target: text.target,
            stop: text.stop,
            reserve: text.reserve,
            rest: text.rest,
            load: text.load,
            body_mass: text.body_mass,
            tempo: text.tempo,
            pain: text.pain,
            note: text.note.into_owned(),
        })
    }
}
