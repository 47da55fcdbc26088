//! Calendar: on which days a person trains, and what hurts.

use crate::dice::Dice;
use crate::hall::DAYS;
use crate::hall::cast::{Person, Sore};

/// The days of the story on which the person trains, in order.
pub fn training_days(person: &Person, dice: &mut Dice) -> Vec<i32> {
    let mut days = Vec::new();
    for day in 0..DAYS {
        let weekday = u8::try_from(day.rem_euclid(7)).unwrap_or(0);
        let is_present = (person.present.0..=person.present.1).contains(&day);
        let is_away = person.away.iter().any(|(from, to)| (*from..=*to).contains(&day));
        // The last week is not left to chance: the demo asks for the day after it.
        let comes = dice.chance(person.habit.turnout) || day >= DAYS - 7;
        if person.days.contains(&weekday) && is_present && !is_away && comes {
            days.push(day);
        }
    }
    days
}

/// The pain of 10 felt in an ability on a day, if any.
pub fn pain_on(person: &Person, ability: &str, day: i32) -> Option<f64> {
    let felt = |s: &&Sore| s.ability == ability && (s.from..=s.to).contains(&day);
    let sore = person.sore.iter().find(felt)?;
    let share = f64::from(day - sore.from) / f64::from((sore.to - sore.from).max(1));
    Some(sore.pain.0 + share * (sore.pain.1 - sore.pain.0))
}

/// True on the first training day after a spell away.
pub fn is_back(person: &Person, day: i32, last: Option<i32>) -> bool {
    last.is_some_and(|last| person.away.iter().any(|(from, to)| last < *from && day > *to))
}
