//! Pages: together they are the whole list, and a token belongs to one list.

use nextrung_api::v1;
use tonic::Code;

use crate::messages::{athlete, date, many, roster};
use crate::prescriptions::{prescribe, trained};
use crate::refusal::{Refusal, bad_fields, refused};
use crate::service::{ATHLETE, ROSTER, Service};

/// Every item of a list in pages of `$size`, each page checked for its length.
macro_rules! paged {
    ($service:expr, $client:ident.$method:ident, $request:expr, $items:ident, $size:expr) => {{
        let (mut found, mut token, mut pages) = (Vec::new(), String::new(), 0);
        loop {
            let mut request = $request.clone();
            (request.page_size, request.page_token) = ($size, token);
            let page = $service.$client().$method(request).await.unwrap().into_inner();
            token = page.next_page_token;
            let is_last = token.is_empty();
            assert!(is_last || page.$items.len() == usize::try_from($size).unwrap());
            assert!(!page.$items.is_empty());
            found.extend(page.$items);
            pages += 1;
            if is_last {
                break;
            }
        }
        (found, pages)
    }};
}

/// A list in pages is the same as in one page; negative sizes and tokens of other lists are refused.
macro_rules! is_paged {
    ($service:expr, $client:ident.$method:ident, $request:expr, $items:ident, $count:expr) => {{
        let request = $request;
        let (all, pages) = paged!($service, $client.$method, request, $items, 1000);
        assert_eq!((all.len(), pages), ($count, 1));
        for size in [1, 2, 3] {
            let (found, pages) = paged!($service, $client.$method, request, $items, size);
            assert_eq!(found, all);
            assert_eq!(pages, $count.div_ceil(usize::try_from(size).unwrap()), "no empty last page");
        }
        let mut negative = request.clone();
        negative.page_size = -1;
        assert_eq!(bad_fields($service.$client().$method(negative).await), ["page_size"]);
        for token in ["x", "0123456789ab.x", "."] {
            let mut foreign = request.clone();
            foreign.page_token = token.to_owned();
            let refusal = refused($service.$client().$method(foreign).await);
            assert_eq!((refusal.code, refusal.reason.as_str()), (Code::InvalidArgument, "BAD_PAGE_TOKEN"));
        }
        let mut first = request.clone();
        first.page_size = 1;
        let token = $service.$client().$method(first).await.unwrap().into_inner().next_page_token;
        let tag = token.split_once('.').unwrap().0;
        let mut forged = request.clone();
        forged.page_token = format!("{tag}.~ ä/..");
        if let Err(status) = $service.$client().$method(forged).await {
            assert_eq!(Refusal::of(&status).reason, "BAD_PAGE_TOKEN");
        }
        token
    }};
}

#[tokio::test]
async fn rosters_athletes_and_ladders() {
    let service = Service::start().await;
    for n in 0..5 {
        let request = v1::CreateRosterRequest {
            roster_id: format!("r{n}"),
            roster: Some(roster("Title")),
            request_id: format!("{n}"),
        };
        service.rosters().create_roster(request).await.unwrap();
    }
    is_paged!(service, rosters.list_rosters, v1::ListRostersRequest::default(), rosters, 5_usize);
    service.new_roster().await;
    for n in 0..5 {
        service.add_athlete(&format!("a{n}"), athlete()).await;
    }
    let request = v1::ListAthletesRequest { parent: ROSTER.to_owned(), ..Default::default() };
    is_paged!(service, athletes.list_athletes, request, athletes, 5_usize);
    let list = v1::ListLaddersRequest::default();
    let count = service.ladders().list_ladders(list.clone()).await.unwrap().into_inner().ladders.len();
    is_paged!(service, ladders.list_ladders, list, ladders, count);
}

#[tokio::test]
async fn sets() {
    let service = Service::start().await;
    service.new_athlete().await;
    service.record("1", many(11)).await.unwrap();
    let request = v1::ListSetsRequest { parent: ATHLETE.to_owned(), ..Default::default() };
    let token = is_paged!(service, log.list_sets, request.clone(), sets, 11_usize);
    let day = Some(date(2024, 1, 2));
    let filtered = v1::ListSetsRequest { start_date: day, end_date: day, ..request };
    is_paged!(service, log.list_sets, filtered.clone(), sets, 4_usize);
    let answer = service.log().list_sets(v1::ListSetsRequest { page_token: token, ..filtered }).await;
    assert_eq!(refused(answer).reason, "BAD_PAGE_TOKEN", "a token belongs to its filters");
}

#[tokio::test]
async fn prescriptions() {
    let service = trained().await;
    for n in 0..5 {
        prescribe(&service, &n.to_string()).await;
    }
    let request = v1::ListPrescriptionsRequest { parent: ATHLETE.to_owned(), ..Default::default() };
    is_paged!(service, prescriptions.list_prescriptions, request, prescriptions, 5_usize);
}

#[tokio::test]
async fn fifty_items_are_a_page_when_the_client_does_not_say() {
    let service = Service::start().await;
    service.new_athlete().await;
    service.record("1", many(60)).await.unwrap();
    let request = v1::ListSetsRequest { parent: ATHLETE.to_owned(), ..Default::default() };
    let page = service.log().list_sets(request.clone()).await.unwrap().into_inner();
    assert_eq!(page.sets.len(), 50);
    let request = v1::ListSetsRequest { page_size: i32::MAX, ..request };
    let page = service.log().list_sets(request).await.unwrap().into_inner();
    assert_eq!((page.sets.len(), page.next_page_token.as_str()), (60, ""));
}
