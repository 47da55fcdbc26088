//! Draft: a set as it comes in, and the one check that turns it into a [`SetEntry`].

use crate::catalog::Catalog;
use crate::date::CivilDate;
use crate::ids::{ClientSetId, ShadingId};
use crate::ladder::Rung;
use crate::measure::{Grams, Pain, Reserve, RestSeconds, SessionNumber, SetNumber, Tempo, Unit};
use crate::problem::{Problem, did_you_mean};
use crate::profile::Profile;
use crate::set::SetEntry;
use crate::stop::{Purpose, Stop};

mod findings;
mod fit;

pub(crate) use findings::{Findings, check_choice, check_rung, check_text, listed, quoted};
pub use findings::{MAX_LISTED, MAX_NOTE, MAX_SHADINGS};

/// A choice from a closed list as it comes in.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum Choice<T> {
    /// Left out.
    Missing,
    /// Not one of the list; the text as it came.
    Unknown(String),
    /// One of the list.
    Known(T),
}

/// A set as it comes in, nothing checked. Field names are those of the contract.
#[derive(Debug, Clone, PartialEq)]
pub struct SetDraft {
    /// The client's key.
    pub client_set_id: String,
    /// Year, month, day.
    pub training_date: Option<(i64, i64, i64)>,
    /// Session of the day; 0 stands for 1.
    pub session: i64,
    /// Set of the session.
    pub set_number: i64,
    /// `ladder/rung`.
    pub rung: String,
    /// What the set was for.
    pub purpose: Choice<Purpose>,
    /// Ids of shadings.
    pub shadings: Vec<String>,
    /// Clean units done, in which unit.
    pub done: Option<(Unit, i64)>,
    /// Planned target in the same unit.
    pub planned_target: Option<i64>,
    /// How the set ended.
    pub stop: Choice<Stop>,
    /// Reps in reserve.
    pub reps_in_reserve: Option<i64>,
    /// Rest before the set.
    pub rest_seconds: Option<i64>,
    /// Kilograms added or removed; what rounds to 0 grams is body mass alone, as if not given.
    pub load_kg: Option<f64>,
    /// Body mass on the day; the profile's stands in when a load is given.
    pub body_mass_kg: Option<f64>,
    /// Tempo; empty when not given.
    pub tempo: String,
    /// Pain 0-10.
    pub pain: Option<i64>,
    /// Free text.
    pub note: String,
}

impl Default for SetDraft {
    fn default() -> Self {
        Self {
            client_set_id: String::new(),
            training_date: None,
            session: 0,
            set_number: 0,
            rung: String::new(),
            purpose: Choice::Missing,
            shadings: Vec::new(),
            done: None,
            planned_target: None,
            stop: Choice::Missing,
            reps_in_reserve: None,
            rest_seconds: None,
            load_kg: None,
            body_mass_kg: None,
            tempo: String::new(),
            pain: None,
            note: String::new(),
        }
    }
}

/// What a draft is checked against.
#[derive(Debug, Clone, Copy)]
pub struct Setting<'a> {
    /// The ladders in force.
    pub catalog: &'a Catalog,
    /// The athlete.
    pub profile: &'a Profile,
    /// The service's date; one day more is allowed, for clients east of it.
    pub today: CivilDate,
}

impl SetDraft {
    /// Checks every field against `setting`. Fails with every problem found, fields named as in the contract.
    pub fn check(&self, setting: &Setting<'_>) -> Result<SetEntry, Vec<Problem>> {
        let mut bad = Findings(Vec::new());
        let client_set_id = self.check_id(&mut bad);
        let date = check_date(&mut bad, self.training_date, setting);
        let session = bad.whole(
            "session",
            if self.session == 0 { 1 } else { self.session },
            SessionNumber::new,
            (1, 9),
        );
        let number = bad.whole("set_number", self.set_number, SetNumber::new, (1, 200));
        let purpose = check_choice(&mut bad, "purpose", &self.purpose, &Purpose::ALL.map(Purpose::word));
        let stop = check_choice(&mut bad, "stop", &self.stop, &Stop::ALL.map(Stop::word));
        let rung = check_rung(&mut bad, &self.rung, setting.catalog);
        let shadings = rung.as_ref().and_then(|(_, r)| self.check_shadings(&mut bad, r));
        let done = self.check_done(&mut bad, rung.as_ref().map(|(_, r)| r.unit));
        let target = self.check_target(&mut bad);
        let reserve =
            self.reps_in_reserve.and_then(|v| bad.whole("reps_in_reserve", v, Reserve::new, (0, 10)));
        let rest = self.rest_seconds.and_then(|v| bad.whole("rest_seconds", v, RestSeconds::new, (0, 3600)));
        let pain = self.pain.and_then(|v| bad.whole("pain", v, Pain::new, (0, 10)));
        let tempo = self.check_tempo(&mut bad);
        let (load, body_mass) = self.check_masses(&mut bad, rung.as_ref().map(|(_, r)| *r), setting.profile);
        check_text(&mut bad, "note", &self.note);
        if let Some(stop) = stop {
            let planned = self.planned_target.is_some();
            fit::check_stop(&mut bad, &fit::Ending { stop, done, planned, target, reserve, pain });
        }
        let entry = (|| {
            let (unit, done) = done?;
            Some(SetEntry {
                client_set_id: client_set_id?,
                date: date?,
                session: session?,
                number: number?,
                rung: rung?.0,
                purpose: purpose?,
                shadings: shadings?,
                unit,
                done,
                target,
                stop: stop?,
                reserve,
                rest,
                load,
                body_mass,
                tempo,
                pain,
                note: self.note.clone(),
            })
        })();
        match entry {
            Some(entry) if bad.0.is_empty() => Ok(entry),
            _ => Err(bad.0),
        }
    }

    fn check_id(&self, bad: &mut Findings) -> Option<ClientSetId> {
        let id = ClientSetId::new(&self.client_set_id).ok();
        if id.is_none() {
            bad.add(
                "client_set_id",
                quoted(&self.client_set_id),
                "1 to 64 letters, digits or any of . _ : -",
            );
        }
        id
    }

    fn check_shadings(&self, bad: &mut Findings, rung: &Rung) -> Option<Vec<ShadingId>> {
        let mut found: Vec<ShadingId> = Vec::new();
        for (i, word) in listed(bad, "shadings", &self.shadings, MAX_SHADINGS).iter().enumerate() {
            let field = format!("shadings[{i}]");
            match rung.shadings.iter().find(|s| s.as_str() == word) {
                Some(id) if found.contains(id) => {
                    bad.add(&field, format!("{} again", quoted(word)), "each shading once");
                }
                Some(id) => found.push(id.clone()),
                None => {
                    let offered: Vec<&str> = rung.shadings.iter().map(ShadingId::as_str).collect();
                    let list = if offered.is_empty() { "none".to_owned() } else { offered.join(", ") };
                    let guess = did_you_mean(word, offered.iter().copied());
                    bad.add(
                        &field,
                        quoted(word),
                        format!("a shading offered on {}: {list}{guess}", self.rung),
                    );
                }
            }
        }
        found.sort();
        (found.len() == self.shadings.len()).then_some(found)
    }

    fn check_done(&self, bad: &mut Findings, wanted: Option<Unit>) -> Option<(Unit, u16)> {
        let Some((unit, count)) = self.done else {
            let field = wanted.map_or("reps, hold_seconds or lowering_seconds", Unit::field);
            bad.add("done", "nothing", format!("the clean units done, in {field}"));
            return None;
        };
        if let Some(wanted) = wanted.filter(|w| *w != unit) {
            let expected = format!("{}, the unit of {}", wanted.field(), self.rung);
            bad.add(unit.field(), format!("{count} {}", unit.field()), expected);
            return None;
        }
        let fits = u16::try_from(count).ok().filter(|c| *c <= unit.most());
        if fits.is_none() {
            bad.add(unit.field(), count.to_string(), format!("a whole number from 0 to {}", unit.most()));
        }
        Some((unit, fits?))
    }

    fn check_target(&self, bad: &mut Findings) -> Option<u16> {
        let value = self.planned_target?;
        let most = self.done.map_or(Unit::HoldSeconds, |(unit, _)| unit).most();
        let fits = u16::try_from(value).ok().filter(|t| (1..=most).contains(t));
        if fits.is_none() {
            bad.add("planned_target", value.to_string(), format!("a whole number from 1 to {most}"));
        }
        fits
    }

    fn check_tempo(&self, bad: &mut Findings) -> Option<Tempo> {
        if self.tempo.is_empty() {
            return None;
        }
        let tempo = Tempo::parse(&self.tempo);
        if tempo.is_none() {
            let expected =
                "four signs for lowering, bottom, rising and top, each a digit of seconds or X, such as 31X1";
            bad.add("tempo", quoted(&self.tempo), expected);
        }
        tempo
    }

    fn check_masses(
        &self,
        bad: &mut Findings,
        rung: Option<&Rung>,
        profile: &Profile,
    ) -> (Option<Grams>, Option<Grams>) {
        // Grams are what is kept: a load of none would come back as none given.
        let is_none = |kg: f64| Grams::from_kg(kg, -200.0, 200.0).is_some_and(|load| load.kg() == 0.0);
        let load_kg = self.load_kg.filter(|kg| !is_none(*kg));
        let body = match self.body_mass_kg {
            Some(kg) => {
                let mass = Grams::from_kg(kg, 20.0, 300.0);
                if mass.is_none() {
                    bad.add("body_mass_kg", kg.to_string(), "kilograms from 20 to 300");
                }
                mass
            }
            None => load_kg.and(profile.body_mass),
        };
        let Some(kg) = load_kg else { return (None, body) };
        let load = Grams::from_kg(kg, -200.0, 200.0);
        let share = rung.and_then(|r| r.load_share.as_ref()).map(|(share, _)| *share);
        match (load, rung, share, body) {
            (None, ..) => bad.add("load_kg", kg.to_string(), "kilograms from -200 to 200"),
            (Some(_), Some(_), None, _) => {
                let expected =
                    "no load: the share of body mass moved on this rung is not known; use a shading";
                bad.add("load_kg", kg.to_string(), expected);
            }
            (Some(_), _, _, None) if self.body_mass_kg.is_none() => {
                bad.add(
                    "body_mass_kg",
                    "nothing",
                    "the body mass, here or in the athlete's profile, when a load is given",
                );
            }
            (Some(load), _, Some(share), Some(body)) if load.kg() + 0.9 * share * body.kg() <= 0.0 => {
                bad.add("load_kg", kg.to_string(), "less help than nine tenths of the mass moved");
            }
            _ => {}
        }
        (load, body)
    }
}

fn check_date(
    bad: &mut Findings,
    parts: Option<(i64, i64, i64)>,
    setting: &Setting<'_>,
) -> Option<CivilDate> {
    let Some((y, m, d)) = parts else {
        bad.add("training_date", "nothing", "the day of training: year, month and day");
        return None;
    };
    let date = match CivilDate::from_parts(y, m, d) {
        Ok(date) => date,
        Err(_) => {
            bad.add("training_date", format!("{y}-{m}-{d}"), "a day that exists, from 1900 to 2199");
            return None;
        }
    };
    if date > setting.today.plus_days(1) {
        bad.add("training_date", date.to_string(), format!("a day not after {}", setting.today.plus_days(1)));
        return None;
    }
    if let Some(birth) = setting.profile.birth_date.filter(|birth| date < *birth) {
        bad.add(
            "training_date",
            date.to_string(),
            format!("a day not before the athlete's birth on {birth}"),
        );
        return None;
    }
    Some(date)
}
