//! Sheets of sets: sound ones, faulty ones, and there and back.

#[cfg(test)]
mod faulty_cells;
#[cfg(test)]
mod faulty_files;
#[cfg(test)]
mod fixture;
#[cfg(test)]
mod there_and_back;
