//! Profile: the flags that describe an athlete.

use clap::{Args, ValueEnum};
use nextrung_api::v1;
use nextrung_domain::date::CivilDate;

use crate::bands::{self, BandFlags};
use crate::{calendar, names, words};

/// The flags that describe an athlete.
#[derive(Debug, Default, Args)]
pub(crate) struct ProfileFlags {
    /// What people call the athlete; a nickname will do
    #[arg(long)]
    pub(crate) name: Option<String>,
    /// Date of birth; give it for minors
    #[arg(long, value_name = "DAY", value_parser = calendar::parse_day)]
    birth_date: Option<CivilDate>,
    /// Body mass in kilograms
    #[arg(long, value_name = "KG", allow_negative_numbers = true)]
    body_mass: Option<f64>,
    /// A goal rung, with the day wished for if there is one; repeat it, the dearest first. Replaces all goals
    #[arg(long = "goal", value_name = "LADDER/RUNG[@DAY]", value_parser = parse_goal)]
    goals: Vec<v1::Goal>,
    /// Equipment at hand, separated by commas. Replaces what was there
    #[arg(long, value_name = "WORDS", value_delimiter = ',')]
    equipment: Vec<String>,
    /// Days on which the athlete can train, such as mon,wed,fri. Replaces what was there
    #[arg(long, value_name = "DAYS", value_delimiter = ',', value_parser = words::weekday)]
    days: Vec<v1::Weekday>,
    /// Pain (1 to 10) at which a rung is held back
    #[arg(long, value_name = "PAIN", allow_negative_numbers = true)]
    max_pain: Option<i32>,
    /// Most sets in one session
    #[arg(long, value_name = "SETS", allow_negative_numbers = true)]
    max_sets: Option<i32>,
    /// Longest session in minutes, rests included
    #[arg(long, value_name = "MINUTES", allow_negative_numbers = true)]
    max_minutes: Option<i32>,
    /// A rung the coach does not want trained, and why; may be repeated. Added to those there are
    #[arg(long = "ban", value_name = "LADDER/RUNG=WHY", value_parser = parse_ban)]
    bans: Vec<v1::BannedRung>,
    /// A rung the coach insists on for working sets, and why; may be repeated. Replaces the one of its ladder
    #[arg(long = "pin", value_name = "LADDER/RUNG=WHY", value_parser = parse_pin)]
    pins: Vec<v1::PinnedRung>,
    /// The hardest rung the coach allows on its ladder, and why; may be repeated. Replaces the one of its ladder
    #[arg(long = "cap", value_name = "LADDER/RUNG=WHY", value_parser = parse_cap)]
    caps: Vec<v1::CappedRung>,
    /// A clearance and who confirmed it: inverted-work, exit-practised or slow-lowering-full-range.
    /// May be repeated. Added to those there are
    #[arg(long = "clearance", value_name = "CLEARANCE=WHO", value_parser = parse_clearance)]
    clearances: Vec<(v1::Clearance, String)>,
    /// The day on which the clearances were confirmed; today when left out
    #[arg(long, value_name = "DAY", value_parser = calendar::parse_day, requires = "clearances")]
    confirmed_on: Option<CivilDate>,
    #[command(flatten)]
    bands: BandFlags,
}

/// The flags that take something away from an athlete.
#[derive(Debug, Default, Args)]
pub(crate) struct ClearingFlags {
    /// A rung that is no longer banned; may be repeated
    #[arg(long = "unban", value_name = "LADDER/RUNG")]
    unban: Vec<String>,
    /// A rung that is no longer insisted on; may be repeated
    #[arg(long = "unpin", value_name = "LADDER/RUNG")]
    unpin: Vec<String>,
    /// A rung that is no longer the hardest allowed; may be repeated
    #[arg(long = "uncap", value_name = "LADDER/RUNG")]
    uncap: Vec<String>,
    /// A clearance that no longer holds; may be repeated
    #[arg(long = "revoke", value_name = "CLEARANCE", value_parser = words::choice::<v1::Clearance>())]
    revoke: Vec<v1::Clearance>,
    /// What to empty; may be repeated
    #[arg(long = "clear", value_name = "WHAT", value_enum)]
    clear: Vec<Cleared>,
}

/// What can be emptied.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Cleared {
    BirthDate,
    BodyMass,
    Goals,
    Equipment,
    Days,
    Bands,
}

impl ProfileFlags {
    /// Applies the flags to an athlete. Returns the fields that were set, as an update mask names them.
    pub(crate) fn apply(&self, athlete: &mut v1::Athlete) -> Vec<&'static str> {
        let mut changed = Vec::new();
        if let Some(name) = &self.name {
            athlete.display_name.clone_from(name);
            changed.push("display_name");
        }
        if let Some(day) = self.birth_date {
            athlete.birth_date = Some(calendar::to_wire(day));
            changed.push("birth_date");
        }
        if self.body_mass.is_some() {
            athlete.body_mass_kg = self.body_mass;
            changed.push("body_mass_kg");
        }
        if !self.goals.is_empty() {
            athlete.goals.clone_from(&self.goals);
            changed.push("goals");
        }
        if !self.equipment.is_empty() {
            athlete.equipment.clone_from(&self.equipment);
            changed.push("equipment");
        }
        if !self.days.is_empty() {
            athlete.available_weekdays = self.days.iter().map(|day| i32::from(*day)).collect();
            changed.push("available_weekdays");
        }
        if self.apply_limits(athlete) {
            changed.push("limits");
        }
        if !self.clearances.is_empty() {
            self.confirm(athlete);
            changed.push("clearances");
        }
        if !self.bands.bands.is_empty() {
            athlete.bands = bands::merged(athlete.bands.take(), &self.bands.bands);
            changed.push("bands");
        }
        changed
    }

    fn apply_limits(&self, athlete: &mut v1::Athlete) -> bool {
        let numbers = [self.max_pain, self.max_sets, self.max_minutes];
        let has_words = !(self.bans.is_empty() && self.pins.is_empty() && self.caps.is_empty());
        if numbers.iter().all(Option::is_none) && !has_words {
            return false;
        }
        let limits = athlete.limits.get_or_insert_default();
        limits.max_pain = self.max_pain.or(limits.max_pain);
        limits.max_sets_per_session = self.max_sets.or(limits.max_sets_per_session);
        limits.max_minutes = self.max_minutes.or(limits.max_minutes);
        limits.banned_rungs.retain(|old| self.bans.iter().all(|new| new.rung != old.rung));
        limits.banned_rungs.extend(self.bans.iter().cloned());
        let ladder = |rung: &str| names::parent(rung).to_owned();
        let pinned: Vec<String> = self.pins.iter().map(|pin| ladder(&pin.rung)).collect();
        let capped: Vec<String> = self.caps.iter().map(|cap| ladder(&cap.rung)).collect();
        limits.pinned_rungs.retain(|old| !pinned.contains(&ladder(&old.rung)));
        limits.pinned_rungs.extend(self.pins.iter().cloned());
        limits.capped_rungs.retain(|old| !capped.contains(&ladder(&old.rung)));
        limits.capped_rungs.extend(self.caps.iter().cloned());
        true
    }

    /// Adds the clearances; one that was confirmed before is confirmed anew.
    fn confirm(&self, athlete: &mut v1::Athlete) {
        let day = calendar::to_wire(self.confirmed_on.unwrap_or_else(calendar::today));
        for (clearance, by) in &self.clearances {
            athlete.clearances.retain(|old| old.clearance != i32::from(*clearance));
            athlete.clearances.push(v1::Confirmation {
                clearance: i32::from(*clearance),
                confirmed_date: Some(day),
                confirmed_by: by.clone(),
            });
        }
    }
}

impl ClearingFlags {
    /// Takes away what the flags name. Returns the fields that were set, as an update mask names them.
    pub(crate) fn apply(&self, athlete: &mut v1::Athlete) -> Vec<&'static str> {
        let mut changed = Vec::new();
        let [unban, unpin, uncap] = [&self.unban, &self.unpin, &self.uncap]
            .map(|freed| freed.iter().map(|rung| names::rung(rung)).collect::<Vec<String>>());
        if !(unban.is_empty() && unpin.is_empty() && uncap.is_empty()) {
            let limits = athlete.limits.get_or_insert_default();
            limits.banned_rungs.retain(|ban| !unban.contains(&ban.rung));
            limits.pinned_rungs.retain(|pin| !unpin.contains(&pin.rung));
            limits.capped_rungs.retain(|cap| !uncap.contains(&cap.rung));
            changed.push("limits");
        }
        if !self.revoke.is_empty() {
            athlete.clearances.retain(|old| self.revoke.iter().all(|gone| i32::from(*gone) != old.clearance));
            changed.push("clearances");
        }
        for field in &self.clear {
            changed.push(field.empty(athlete));
        }
        changed
    }
}

impl Cleared {
    fn empty(self, athlete: &mut v1::Athlete) -> &'static str {
        match self {
            Self::BirthDate => {
                athlete.birth_date = None;
                "birth_date"
            }
            Self::BodyMass => {
                athlete.body_mass_kg = None;
                "body_mass_kg"
            }
            Self::Goals => {
                athlete.goals.clear();
                "goals"
            }
            Self::Equipment => {
                athlete.equipment.clear();
                "equipment"
            }
            Self::Days => {
                athlete.available_weekdays.clear();
                "available_weekdays"
            }
            Self::Bands => {
                athlete.bands = None;
                "bands"
            }
        }
    }
}

/// Reads `pull/pull-up@2027-01-01`, or a rung alone.
pub(crate) fn parse_goal(text: &str) -> Result<v1::Goal, String> {
    let (rung, day) = match text.split_once('@') {
        Some((rung, day)) => (rung, Some(calendar::parse_day(day)?)),
        None => (text, None),
    };
    Ok(v1::Goal { rung: names::rung(rung), by_date: day.map(calendar::to_wire) })
}

fn parse_word(text: &str) -> Result<(String, String), String> {
    let (rung, reason) = text.split_once('=').ok_or("expected LADDER/RUNG=WHY, such as pull/archer=elbow")?;
    Ok((names::rung(rung), reason.to_owned()))
}

fn parse_ban(text: &str) -> Result<v1::BannedRung, String> {
    parse_word(text).map(|(rung, reason)| v1::BannedRung { rung, reason })
}

fn parse_pin(text: &str) -> Result<v1::PinnedRung, String> {
    parse_word(text).map(|(rung, reason)| v1::PinnedRung { rung, reason })
}

fn parse_cap(text: &str) -> Result<v1::CappedRung, String> {
    parse_word(text).map(|(rung, reason)| v1::CappedRung { rung, reason })
}

fn parse_clearance(text: &str) -> Result<(v1::Clearance, String), String> {
    let (clearance, by) =
        text.split_once('=').ok_or("expected CLEARANCE=WHO, such as exit-practised=coach")?;
    Ok((words::parse(clearance)?, by.to_owned()))
}

#[cfg(test)]
mod tests;
