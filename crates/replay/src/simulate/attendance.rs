//! Attendance: the days on which a simulated athlete turns up. Every size: common practice, no source.

use nextrung_domain::date::CivilDate;

use crate::dice::Dice;

/// How somebody stays away.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Habit {
    /// Share of the planned days on which they turn up when nothing keeps them away.
    pub turnout: f64,
    /// Weeks of training between absences on average, and the least and most weeks of one; nothing for who has none.
    pub absences: Option<(f64, (f64, f64))>,
}

impl Habit {
    /// Every planned day.
    pub const ALWAYS: Self = Self { turnout: 1.0, absences: None };
    /// Nine days of ten, and away for two to eight weeks about every ten.
    pub const COMES_AND_GOES: Self = Self { turnout: 0.9, absences: Some((8.0, (2.0, 8.0))) };
}

/// Days away after pain that ended a set, for each point of pain above 2: at least none, at most this many.
const SORE_DAYS: f64 = 2.5;

/// An athlete's days.
#[derive(Debug, Clone)]
pub struct Attendance {
    habit: Habit,
    /// First and last day of the absence that is on or comes next.
    away: Option<(i32, i32)>,
    sore_until: i32,
    dice: Dice,
}

impl Attendance {
    /// Before the first day.
    pub fn new(habit: Habit, start: CivilDate, dice: Dice) -> Self {
        let first = start.day_number();
        let mut attendance = Self { habit, away: None, sore_until: first, dice };
        attendance.plan_absence(first);
        attendance
    }

    /// Asked once on each planned day, in order.
    pub fn is_there(&mut self, date: CivilDate) -> bool {
        let day = date.day_number();
        while let Some((_, last)) = self.away.filter(|(_, last)| *last < day) {
            self.plan_absence(last);
        }
        let turns_up = self.dice.chance(self.habit.turnout);
        let is_away = self.away.is_some_and(|(first, _)| day >= first);
        turns_up && !is_away && day >= self.sore_until
    }

    /// A set was ended by pain of so much of 10: some days off may follow, the more the worse it was.
    pub fn hurt(&mut self, date: CivilDate, pain: u8) {
        let most = SORE_DAYS * (f64::from(pain) - 2.0).max(0.0);
        self.sore_until = date.day_number() + 1 + days(self.dice.between(0.0, most));
    }

    fn plan_absence(&mut self, after: i32) {
        self.away = self.habit.absences.map(|(between, (least, most))| {
            let first = after + 1 + days(7.0 * between * self.dice.exponential());
            (first, first + days(7.0 * self.dice.between(least, most)))
        });
    }
}

fn days(n: f64) -> i32 {
    i32::from(crate::simulate::truth::whole(n))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn seen(habit: Habit) -> Vec<bool> {
        let start = CivilDate::parse("2026-01-05").unwrap();
        let mut attendance = Attendance::new(habit, start, Dice::new(4, 0));
        (0..3000).map(|day| attendance.is_there(start.plus_days(day))).collect()
    }

    #[test]
    fn who_has_no_habit_of_staying_away_is_always_there() {
        assert!(seen(Habit::ALWAYS).into_iter().all(|there| there));
    }

    #[test]
    fn absences_last_weeks() {
        let always_up = Habit { turnout: 1.0, ..Habit::COMES_AND_GOES };
        let runs: Vec<usize> =
            seen(always_up).chunk_by(PartialEq::eq).filter(|run| !run[0]).map(<[bool]>::len).collect();
        assert!(runs.len() > 15, "{runs:?}");
        assert!(runs[..runs.len() - 1].iter().all(|run| (14..=57).contains(run)), "{runs:?}");
    }

    #[test]
    fn pain_keeps_away_for_days() {
        let start = CivilDate::parse("2026-01-05").unwrap();
        let mut missed = 0;
        for stream in 0..200 {
            let mut attendance = Attendance::new(Habit::ALWAYS, start, Dice::new(4, stream));
            attendance.hurt(start, 8);
            let back = (1..40).find(|day| attendance.is_there(start.plus_days(*day))).unwrap();
            assert!(back <= 16, "{back}");
            missed += back - 1;
        }
        // Uniform from 0 to 15 days: 7 whole ones on average.
        assert!((1200..1600).contains(&missed), "{missed}");
    }
}
