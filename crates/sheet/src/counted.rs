//! Counted: a number with what it counts.

/// `1 row`, `2 rows`: a number with the word for one of what it counts.
pub fn counted(number: usize, one: &str) -> String {
    if number == 1 { format!("1 {one}") } else { format!("{number} {one}s") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_is_not_many() {
        let told = [0, 1, 2].map(|number| counted(number, "row"));
        assert_eq!(told, ["0 rows", "1 row", "2 rows"]);
    }
}
