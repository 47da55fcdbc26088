//! Set flags: one set on the command line.

use clap::{ArgGroup, Args, ValueEnum};
use nextrung_api::v1;
use nextrung_api::v1::logged_set::Done;
use nextrung_domain::date::CivilDate;

use crate::{calendar, names, words};

/// The flags that describe one set.
#[derive(Debug, Default, Args)]
#[command(group = ArgGroup::new("done").args(["reps", "hold", "lowering"]))]
pub(crate) struct SetFlags {
    /// The day of training
    #[arg(long, value_name = "DAY", value_parser = calendar::parse_day)]
    pub(crate) date: Option<CivilDate>,
    /// Which session of the day, 1 to 9
    #[arg(long, value_name = "N", allow_negative_numbers = true)]
    session: Option<i32>,
    /// The place of the set in the session, counted over all rungs
    #[arg(long, value_name = "N", allow_negative_numbers = true)]
    set: Option<i32>,
    /// The rung
    #[arg(long, value_name = "LADDER/RUNG")]
    rung: Option<String>,
    /// What the set was for
    #[arg(long, value_parser = words::choice::<v1::Purpose>())]
    pub(crate) purpose: Option<v1::Purpose>,
    /// A shading that was made to the rung, such as light-band; may be repeated
    #[arg(long = "shading", value_name = "ID")]
    shadings: Vec<String>,
    /// Clean repetitions done
    #[arg(long, value_name = "N", allow_negative_numbers = true)]
    reps: Option<i32>,
    /// Seconds of a clean hold
    #[arg(long, value_name = "SECONDS", allow_negative_numbers = true)]
    hold: Option<i32>,
    /// Seconds of one clean slow lowering
    #[arg(long, value_name = "SECONDS", allow_negative_numbers = true)]
    lowering: Option<i32>,
    /// What was planned before the set began
    #[arg(long, value_name = "N", allow_negative_numbers = true)]
    target: Option<i32>,
    /// How the set ended
    #[arg(long, value_parser = words::choice::<v1::Stop>())]
    stop: Option<v1::Stop>,
    /// What the athlete says was left, 0 to 10
    #[arg(long, value_name = "N", allow_negative_numbers = true)]
    reserve: Option<i32>,
    /// Rest before the set, in seconds
    #[arg(long, value_name = "SECONDS", allow_negative_numbers = true)]
    rest: Option<i32>,
    /// Kilograms added, or taken off when negative
    #[arg(long, value_name = "KG", allow_negative_numbers = true)]
    load: Option<f64>,
    /// Body mass on the day, in kilograms
    #[arg(long, value_name = "KG", allow_negative_numbers = true)]
    body_mass: Option<f64>,
    /// Tempo: lowering, bottom, rising, top, such as 31X1
    #[arg(long)]
    tempo: Option<String>,
    /// The worst pain during the set, 0 to 10
    #[arg(long, value_name = "0-10", allow_negative_numbers = true)]
    pain: Option<i32>,
    /// What else there is to say
    #[arg(long)]
    note: Option<String>,
}

/// What can be taken out of a set.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum ClearedPart {
    Target,
    Reserve,
    Rest,
    Load,
    BodyMass,
    Tempo,
    Pain,
    Note,
    Shadings,
}

impl SetFlags {
    /// Every flag that a new set needs and that was left out.
    pub(crate) fn missing(&self) -> Vec<&'static str> {
        let needed = [
            (self.set.is_some(), "--set"),
            (self.rung.is_some(), "--rung"),
            (self.done().is_some(), "--reps, --hold or --lowering"),
            (self.stop.is_some(), "--stop"),
        ];
        needed.into_iter().filter(|(is_there, _)| !is_there).map(|(_, flag)| flag).collect()
    }

    /// True when no flag was given.
    pub(crate) fn is_empty(&self) -> bool {
        let mut set = v1::LoggedSet::default();
        self.apply(&mut set);
        set == v1::LoggedSet::default()
            && self.session.is_none()
            && self.set.is_none()
            && self.load.is_none()
            && self.tempo.is_none()
            && self.note.is_none()
    }

    /// Puts what the flags say into a set.
    pub(crate) fn apply(&self, set: &mut v1::LoggedSet) {
        set.training_date = self.date.map(calendar::to_wire).or(set.training_date);
        replace(&mut set.session, self.session);
        replace(&mut set.set_number, self.set);
        replace(&mut set.rung, self.rung.as_deref().map(names::rung));
        replace(&mut set.purpose, self.purpose.map(i32::from));
        if !self.shadings.is_empty() {
            set.shadings.clone_from(&self.shadings);
        }
        set.done = self.done().or(set.done);
        set.planned_target = self.target.or(set.planned_target);
        replace(&mut set.stop, self.stop.map(i32::from));
        set.reps_in_reserve = self.reserve.or(set.reps_in_reserve);
        set.rest_seconds = self.rest.or(set.rest_seconds);
        replace(&mut set.load_kg, self.load);
        set.body_mass_kg = self.body_mass.or(set.body_mass_kg);
        replace(&mut set.tempo, self.tempo.clone());
        set.pain = self.pain.or(set.pain);
        replace(&mut set.note, self.note.clone());
    }

    fn done(&self) -> Option<Done> {
        let counted = self.reps.map(Done::Reps).or(self.hold.map(Done::HoldSeconds));
        counted.or(self.lowering.map(Done::LoweringSeconds))
    }
}

impl ClearedPart {
    /// Takes the part out of a set.
    pub(crate) fn empty(self, set: &mut v1::LoggedSet) {
        match self {
            Self::Target => set.planned_target = None,
            Self::Reserve => set.reps_in_reserve = None,
            Self::Rest => set.rest_seconds = None,
            Self::Load => set.load_kg = 0.0,
            Self::BodyMass => set.body_mass_kg = None,
            Self::Tempo => set.tempo.clear(),
            Self::Pain => set.pain = None,
            Self::Note => set.note.clear(),
            Self::Shadings => set.shadings.clear(),
        }
    }
}

fn replace<T>(place: &mut T, value: Option<T>) {
    if let Some(value) = value {
        *place = value;
    }
}

#[cfg(test)]
mod tests {
    use clap::Parser;

    use super::*;

    #[derive(Parser)]
    struct Flags {
        #[command(flatten)]
        set: SetFlags,
    }

    fn flags(text: &[&str]) -> SetFlags {
        Flags::try_parse_from([&["x"], text].concat()).unwrap().set
    }

    #[test]
    fn every_flag_reaches_the_set() {
        let given = flags(&[
            "--date=2026-11-20",
            "--session=2",
            "--set=3",
            "--rung=pull/pull-up",
            "--purpose=test",
            "--shading=light-band",
            "--reps=5",
            "--target=5",
            "--stop=target",
            "--reserve=1",
            "--rest=180",
            "--load=-5",
            "--body-mass=70.5",
            "--tempo=31X1",
            "--pain=0",
            "--note=calm",
        ]);
        let mut set = v1::LoggedSet::default();
        given.apply(&mut set);
        let expected = v1::LoggedSet {
            training_date: Some(v1::Date { year: 2026, month: 11, day: 20 }),
            session: 2,
            set_number: 3,
            rung: "ladders/pull/rungs/pull-up".to_owned(),
            purpose: i32::from(v1::Purpose::Test),
            shadings: vec!["light-band".to_owned()],
            done: Some(Done::Reps(5)),
            planned_target: Some(5),
            stop: i32::from(v1::Stop::Target),
            reps_in_reserve: Some(1),
            rest_seconds: Some(180),
            load_kg: -5.0,
            body_mass_kg: Some(70.5),
            tempo: "31X1".to_owned(),
            pain: Some(0),
            note: "calm".to_owned(),
            ..v1::LoggedSet::default()
        };
        assert_eq!(set, expected);
        assert!(given.missing().is_empty());
    }

    #[test]
    fn what_no_flag_names_stays() {
        let mut set =
            v1::LoggedSet { pain: Some(2), done: Some(Done::HoldSeconds(9)), ..v1::LoggedSet::default() };
        flags(&["--note=x"]).apply(&mut set);
        assert_eq!((set.pain, set.done), (Some(2), Some(Done::HoldSeconds(9))));
        ClearedPart::Pain.empty(&mut set);
        assert_eq!(set.pain, None);
    }

    #[test]
    fn a_zero_is_a_flag_too() {
        assert!(flags(&[]).is_empty());
        for flag in ["--reps=0", "--session=0", "--load=0", "--note="] {
            assert!(!flags(&[flag]).is_empty(), "{flag}");
        }
    }

    #[test]
    fn what_is_missing_is_named_and_units_exclude_each_other() {
        assert_eq!(flags(&["--reps=5"]).missing(), ["--set", "--rung", "--stop"]);
        assert!(Flags::try_parse_from(["x", "--reps=5", "--hold=5"]).is_err());
        assert!(Flags::try_parse_from(["x", "--stop=tired"]).is_err());
    }
}
