//! Season: a course of training on the days on which the athlete turns up.

use nextrung_domain::problem::Problem;

use crate::simulate::attendance::{Attendance, Habit};
use crate::simulate::chooser::{Chooser, Course, Look};
use crate::simulate::trainee::{Setup, Trainee};
use crate::simulate::who::{Side, Who};

/// A course and the athlete's days.
pub struct Season<'s> {
    course: Course<'s>,
    attendance: Attendance,
}

/// What can be watched of a season.
pub trait Watcher {
    /// A session is about to begin, the day entered.
    fn begin(&mut self, _trainee: &Trainee<'_>) {}

    /// A set was done.
    fn set(&mut self, look: &Look<'_, '_>);
}

impl<'s> Season<'s> {
    /// Before the first day. Nothing for a chooser whose goal is on no ladder.
    pub fn new(setup: &'s Setup, who: Who, (chooser, habit): (Chooser, Habit)) -> Option<Self> {
        let course = Course::new(Trainee::new(setup, who), chooser)?.with_all_sets();
        let attendance = Attendance::new(habit, setup.start, who.side_dice(Side::Attendance));
        Some(Self { course, attendance })
    }

    /// Trains for `weeks` weeks and hands back the athlete. Fails when a set as told was not sound.
    pub fn train(mut self, weeks: i32, watcher: &mut dyn Watcher) -> Result<Trainee<'s>, Vec<Problem>> {
        for date in self.course.trainee().setup.training_days(weeks) {
            if !self.attendance.is_there(date) {
                continue;
            }
            self.course.enter(date);
            watcher.begin(self.course.trainee());
            let attendance = &mut self.attendance;
            self.course.session(&mut |look| {
                if let Some(pain) = look.performed.pain {
                    attendance.hurt(date, pain);
                }
                watcher.set(look);
                true
            })?;
        }
        Ok(self.course.into_trainee())
    }
}
