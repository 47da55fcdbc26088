//! Ladders: list, get, and the check of a ladder file.

use nextrung_api::v1;

use crate::refusal::bad_fields;
use crate::service::Service;

const PULL: &str = include_str!("../../data/ladders/pull.toml");

async fn check(service: &Service, content: &str) -> v1::CheckLadderResponse {
    let request = v1::CheckLadderRequest { file_name: "pull.toml".to_owned(), content: content.to_owned() };
    service.ladders().check_ladder(request).await.unwrap().into_inner()
}

#[tokio::test]
async fn every_ladder_is_listed_whole_and_the_same_alone() {
    let service = Service::start().await;
    let list = v1::ListLaddersRequest { page_size: 1000, ..Default::default() };
    let ladders = service.ladders().list_ladders(list).await.unwrap().into_inner().ladders;
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../data/ladders");
    let files = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    let files = files.filter(|path| path.extension().is_some_and(|e| e == "toml"));
    let mut names: Vec<String> =
        files.map(|path| format!("ladders/{}", path.file_stem().unwrap().display())).collect();
    names.sort();
    assert_eq!(ladders.iter().map(|l| l.name.clone()).collect::<Vec<_>>(), names);
    for ladder in ladders {
        assert!(ladder.version >= 1 && ladder.side != 0 && !ladder.about.is_empty());
        for rung in &ladder.rungs {
            assert!(rung.name.starts_with(&format!("{}/rungs/", ladder.name)));
            assert!(rung.unit != 0 && rung.side != 0 && !rung.cues.is_empty() && !rung.demands.is_empty());
            assert!(rung.demands.iter().all(|d| d.basis != 0 && !d.source.is_empty()));
            assert!(rung.working_band.is_some() && rung.attempt_band.is_some());
            assert!(rung.gates.iter().all(|g| is_sound(g.condition.as_ref()) && !g.why.is_empty()));
        }
        let get = v1::GetLadderRequest { name: ladder.name.clone() };
        assert_eq!(service.ladders().get_ladder(get).await.unwrap().into_inner().ladder, Some(ladder));
    }
}

fn is_sound(condition: Option<&v1::gate::Condition>) -> bool {
    match condition {
        Some(v1::gate::Condition::Rung(gate)) => gate.unit != 0 && gate.at_least >= 1,
        Some(v1::gate::Condition::Clearance(clearance)) => *clearance != 0,
        None => false,
    }
}

#[tokio::test]
async fn a_sound_file_is_valid() {
    let service = Service::start().await;
    assert_eq!(check(&service, PULL).await, v1::CheckLadderResponse { valid: true, problems: Vec::new() });
}

#[tokio::test]
async fn gates_in_a_ring_are_named_with_file_line_and_key() {
    let service = Service::start().await;
    let gate = "\n[[rung.gate]]\nrung = \"pull/pull-up\"\nat_least = 3\nwhy = \"a ring\"\n";
    let at = PULL.find("[[rung]]").unwrap();
    let second = at + PULL[at + 1..].find("[[rung]]").unwrap() + 1;
    let ring = format!("{}{gate}\n{}", &PULL[..second], &PULL[second..]);
    let answer = check(&service, &ring).await;
    assert!(!answer.valid);
    let problem = answer.problems.iter().find(|p| p.key.contains("gate")).unwrap();
    assert_eq!(problem.file_name, "pull.toml");
    assert!(problem.line > 0 && !problem.expected.is_empty(), "{problem:?}");
    assert!(format!("{} {}", problem.found, problem.expected).contains("pull/pull-up"), "{problem:?}");
    let get = v1::GetLadderRequest { name: "ladders/pull".to_owned() };
    assert!(service.ladders().get_ladder(get).await.is_ok(), "nothing changed");
}

#[tokio::test]
async fn every_problem_of_a_file_is_an_answer() {
    let service = Service::start().await;
    let answer = check(&service, "id = \"pull\n").await;
    assert_eq!((answer.valid, answer.problems[0].line), (false, 1));
    let spoilt =
        PULL.replacen("version = 1", "version = 0", 1).replacen("unit = \"reps\"", "unit = \"rep\"", 1);
    let answer = check(&service, &spoilt).await;
    assert_eq!(answer.problems.len(), 2, "{answer:?}");
    assert!(answer.problems[0].line < answer.problems[1].line);
}

#[tokio::test]
async fn missing_and_oversize_fields_of_a_check_are_refused() {
    let service = Service::start().await;
    let empty = service.ladders().check_ladder(v1::CheckLadderRequest::default()).await;
    assert_eq!(bad_fields(empty), ["file_name", "content"]);
    let request = v1::CheckLadderRequest { file_name: "x".repeat(256), content: "#".repeat(512 * 1024 + 1) };
    assert_eq!(bad_fields(service.ladders().check_ladder(request).await), ["file_name", "content"]);
}
