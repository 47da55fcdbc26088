//! Imports: sheets of other people's making against another reader, against any bytes, and with rows set aside.

#[cfg(test)]
mod any_input;
#[cfg(test)]
mod caps;
#[cfg(test)]
mod looks;
#[cfg(test)]
mod other_reader;
#[cfg(test)]
mod roster;
#[cfg(test)]
mod set_aside;
#[cfg(test)]
#[path = "../made/workbook.rs"]
mod workbook;
