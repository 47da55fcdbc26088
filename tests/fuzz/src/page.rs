//! Page: tokens of lists, whatever is made of them.

use nextrung_domain::ids::LadderId;
use nextrung_server::page::List;

/// What is told by each list that goes on after an id.
const LISTS: [&str; 4] = ["ListRosters", "ListAthletes", "ListLadders", "ListPrescriptions"];

/// The first byte says whether the rest is a whole token or the end of one, after the mark of its list.
pub(crate) fn judge(bytes: &[u8]) {
    let Some((mode, rest)) = bytes.split_first() else { return };
    let Ok(text) = std::str::from_utf8(rest) else { return };
    let is_whole = mode % 2 == 0;
    for method in LISTS {
        let list = List::new(method, "rosters/hall");
        list_of_ids(&list, &token(&list, text, is_whole));
    }
    let sets = List::new("ListSets", "rosters/hall/athletes/wren");
    list_of_sets(&sets, &token(&sets, text, is_whole));
}

fn token(list: &List, text: &str, is_whole: bool) -> String {
    if is_whole { text.to_owned() } else { list.token(Some(text.to_owned())) }
}

/// A page begins at the start or after an id, and its token is the one that was sent.
fn list_of_ids(list: &List, token: &str) {
    let Ok(page) = list.page(50, token) else { return };
    assert_eq!(page.size, 50);
    assert!(page.after.as_deref().is_none_or(|after| LadderId::new(after).is_ok()), "{token:?}");
    assert_eq!(list.token(page.after), token);
}

/// Sets go on after a place in training order, and its token is the one that was sent.
fn list_of_sets(list: &List, token: &str) {
    let Ok(place) = list.place(token) else { return };
    assert_eq!(list.token_of_place(place.as_ref()), token);
}
