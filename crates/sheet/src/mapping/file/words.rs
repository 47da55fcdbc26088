//! Words: the settings of a mapping in the words of its file.

use crate::grid::Encoding;
use crate::mapping::{DayOrder, Field, HiddenRows, Layout, MassUnit, RestUnit, UndoneRows};

/// Words of a setting with what they mean.
pub(super) type Words<T> = &'static [(&'static str, T)];

pub(super) const ENCODINGS: Words<Encoding> =
    &[("unicode", Encoding::Unicode), ("windows-1252", Encoding::Windows1252)];
pub(super) const LAYOUTS: Words<Layout> = &[
    ("set-a-row", Layout::SetARow),
    ("exercise-a-row", Layout::ExerciseARow),
    ("days-across", Layout::DaysAcross),
];
pub(super) const ORDERS: Words<DayOrder> =
    &[("day-month-year", DayOrder::DayMonth), ("month-day-year", DayOrder::MonthDay)];
pub(super) const DECIMALS: Words<bool> = &[("point", false), ("comma", true)];
pub(super) const MASSES: Words<MassUnit> = &[("kg", MassUnit::Kilograms), ("lb", MassUnit::Pounds)];
pub(super) const RESTS: Words<RestUnit> = &[("s", RestUnit::Seconds), ("min", RestUnit::Minutes)];
pub(super) const HIDDEN: Words<HiddenRows> =
    &[("read", HiddenRows::Read), ("leave-out", HiddenRows::LeaveOut)];
pub(super) const UNDONE: Words<UndoneRows> =
    &[("refuse", UndoneRows::Refuse), ("leave-out", UndoneRows::LeaveOut)];
/// What may be filled down: what is the same for several sets.
pub(super) const FILLED: Words<Field> = &[
    ("date", Field::Date),
    ("athlete", Field::Athlete),
    ("session", Field::Session),
    ("exercise", Field::Exercise),
];
