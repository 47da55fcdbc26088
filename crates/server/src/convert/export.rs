//! Exports: pieces of everything that is kept about an athlete, each well below what a message may hold.

use nextrung_api::v1;
use nextrung_api::v1::export_athlete_response::Piece as Told;
use nextrung_domain::ids::AthleteRef;
use nextrung_engine::export::{Counts, Entry, Piece, What};
use nextrung_engine::set_log::SetStatus;
use nextrung_store::key::{KeyRecord, Role};
use nextrung_store::record::AthleteRecord;
use prost::Message;

use super::{access, athlete, prescription, set, words};

/// Bytes of a message from which on no more is put into it.
const FULL: usize = 256 * 1024;

/// The messages of a piece about an athlete.
pub fn of_piece(id: &AthleteRef, piece: &Piece) -> Vec<v1::ExportAthleteResponse> {
    let told = match piece {
        Piece::Athlete(record) => vec![Told::Athlete(Box::new(athlete::of_record(record)))],
        Piece::Events(entries) => {
            let events = parts(entries.iter().map(|entry| of_entry(id, entry)).collect());
            events.into_iter().map(|events| Told::Events(v1::ExportedEvents { events })).collect()
        }
        Piece::Prescriptions(issued) => {
            let parts = parts(issued.iter().map(prescription::of_issued).collect());
            let told = |prescriptions| Told::Prescriptions(v1::ExportedPrescriptions { prescriptions });
            parts.into_iter().map(told).collect()
        }
        Piece::Keys(keys) => {
            let keys = parts(keys.iter().map(|key| of_key(id, key)).collect());
            keys.into_iter().map(|keys| Told::Keys(v1::ExportedKeys { keys })).collect()
        }
        Piece::Accesses(accesses) => {
            let parts = parts(accesses.iter().map(access::of_access).collect());
            parts.into_iter().map(|accesses| Told::Accesses(v1::ExportedAccesses { accesses })).collect()
        }
        Piece::End(counts) => vec![Told::End(of_counts(*counts))],
    };
    told.into_iter().map(|piece| v1::ExportAthleteResponse { piece: Some(piece) }).collect()
}

/// Items in lists of a size that a message holds.
fn parts<T: Message>(items: Vec<T>) -> Vec<Vec<T>> {
    let mut parts = Vec::new();
    let (mut part, mut bytes) = (Vec::new(), 0);
    for item in items {
        bytes += item.encoded_len();
        part.push(item);
        if bytes >= FULL {
            parts.push(std::mem::take(&mut part));
            bytes = 0;
        }
    }
    if !part.is_empty() {
        parts.push(part);
    }
    parts
}

fn of_entry(id: &AthleteRef, entry: &Entry) -> v1::ExportedEvent {
    use v1::exported_event::Event;
    let Entry { sequence, arrived_at_ms, told } = entry;
    let event = match told {
        What::Set(logged) if matches!(logged.status, SetStatus::Corrected { .. }) => {
            Event::Corrected(set::of_logged(id, logged))
        }
        What::Set(logged) => Event::Recorded(set::of_logged(id, logged)),
        What::Withdrawn { set, reason } => Event::Withdrawn(v1::WithdrawnSet {
            name: format!("{id}/sets/{set}"),
            client_set_id: set.to_string(),
            reason: reason.clone(),
        }),
        What::Profile(profile) => {
            let record = AthleteRecord {
                id: id.clone(),
                profile: (**profile).clone(),
                created_at_ms: 0,
                updated_at_ms: *arrived_at_ms,
                last_sequence: *sequence,
            };
            Event::Profile(v1::Athlete { create_time: None, ..athlete::of_record(&record) })
        }
    };
    v1::ExportedEvent {
        log_position: words::of_position(*sequence),
        arrival_time: Some(words::of_moment(*arrived_at_ms)),
        event: Some(event),
    }
}

fn of_key(id: &AthleteRef, key: &KeyRecord) -> v1::ExportedKey {
    // The hash of its secret stays here, and whom else it reaches.
    let KeyRecord {
        id: key_id,
        secret_hash: _,
        role,
        title,
        reaches,
        created_at_ms,
        expires_at_ms,
        revoked_at_ms,
    } = key;
    let is_own = |reach: &nextrung_store::key::Reach| reach.athlete.as_ref() == Some(&id.athlete);
    v1::ExportedKey {
        id: key_id.to_string(),
        role: Role::word(*role).to_owned(),
        title: title.clone(),
        is_own: reaches.iter().any(is_own),
        create_time: Some(words::of_moment(*created_at_ms)),
        expire_time: expires_at_ms.map(words::of_moment),
        revoke_time: revoked_at_ms.map(words::of_moment),
    }
}

fn of_counts(counts: Counts) -> v1::ExportEnd {
    let Counts { began_at_ms, position, events, prescriptions, keys, accesses } = counts;
    v1::ExportEnd {
        export_time: Some(words::of_moment(began_at_ms)),
        log_position: words::of_position(position),
        event_count: words::of_count(events),
        prescription_count: words::of_count(prescriptions),
        key_count: words::of_count(keys),
        access_count: words::of_count(accesses),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn messages_are_full_and_no_fuller() {
        let item = |length: usize| v1::WithdrawnSet { reason: "x".repeat(length), ..Default::default() };
        let items: Vec<_> = (0..1000).map(|_| item(1000)).collect();
        let parts = parts(items.clone());
        assert!(parts.len() > 3, "{}", parts.len());
        assert!(parts.iter().all(|part| part.iter().map(Message::encoded_len).sum::<usize>() < FULL + 1100));
        assert_eq!(parts.concat(), items);
    }
}
