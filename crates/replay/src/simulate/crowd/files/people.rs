//! People: the athletes of a roster as `athletes.toml`, in the form of the demo roster's.

use nextrung_domain::event::EventBody;
use nextrung_domain::profile::Profile;

use crate::simulate::crowd::SimulatedAthlete;

/// The head of the file.
pub(super) const HEAD: &str = "\
# Simulated athletes with a known truth: none of them exists.
# Written by `simulate roster`; do not edit by hand.

[roster]
id = \"crowd\"
title = \"Simulated athletes (invented)\"
";

const WEEKDAYS: [&str; 7] = ["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"];

/// An athlete's section, from the profile that begins the log.
pub(super) fn section(athlete: &SimulatedAthlete) -> String {
    let profile = athlete.log.events.iter().find_map(|event| match &event.body {
        EventBody::Profiled { profile } => Some(profile),
        EventBody::Recorded { .. } | EventBody::Corrected { .. } | EventBody::Withdrawn { .. } => None,
    });
    let head = format!(
        "\n# Truth of the family {}, world {}.\n[[athlete]]\nid = \"{}\"\n",
        athlete.family, athlete.world.name, athlete.log.athlete
    );
    profile.map_or(head.clone(), |profile| head + &body(profile))
}

fn body(p: &Profile) -> String {
    let goals = p.goals.iter().map(|goal| goal.rung.to_string());
    let days = p.days.days().filter_map(|d| WEEKDAYS.get(usize::from(d))).map(ToString::to_string);
    let mut lines = vec![format!("display_name = \"{}\"", p.display_name)];
    lines.extend(p.body_mass.map(|mass| format!("body_mass_kg = {:.1}", mass.kg())));
    lines.push(format!("goals = [{}]", quoted(goals)));
    lines.push(format!("equipment = [{}]", quoted(p.equipment.iter().map(ToString::to_string))));
    lines.push(format!("available_weekdays = [{}]", quoted(days)));
    for given in &p.clearances {
        lines.push("\n[[athlete.clearance]]".to_owned());
        lines.push(format!("clearance = \"{}\"", given.clearance.word()));
        lines.push(format!("confirmed_date = \"{}\"", given.on));
        lines.push(format!("confirmed_by = \"{}\"", given.by));
    }
    lines.iter().fold(String::new(), |text, line| text + line + "\n")
}

fn quoted(words: impl Iterator<Item = String>) -> String {
    words.map(|word| format!("\"{word}\"")).collect::<Vec<_>>().join(", ")
}
