//! Connection: to a running service, and what its answers and errors mean.

use std::error::Error;
use std::future::Future;
use std::path::{Path, PathBuf};
use std::time::Duration;

use nextrung_api::v1;
use nextrung_api::v1::athlete_service_client::AthleteServiceClient;
use nextrung_api::v1::capacity_service_client::CapacityServiceClient;
use nextrung_api::v1::ladder_service_client::LadderServiceClient;
use nextrung_api::v1::prescription_service_client::PrescriptionServiceClient;
use nextrung_api::v1::replay_service_client::ReplayServiceClient;
use nextrung_api::v1::review_service_client::ReviewServiceClient;
use nextrung_api::v1::roster_service_client::RosterServiceClient;
use nextrung_api::v1::set_log_service_client::SetLogServiceClient;
use nextrung_server::secret::Secret;
use tonic::metadata::{Ascii, MetadataValue};
use tonic::service::Interceptor;
use tonic::service::interceptor::InterceptedService;
use tonic::transport::{Certificate, Channel, ClientTlsConfig, Endpoint, Identity};
use tonic::{Response, Status};

use crate::failure::Failure;
use crate::refusal::Refusal;

/// Longest wait for a connection.
const CONNECT: Duration = Duration::from_secs(5);
/// Longest wait for an answer.
const ANSWER: Duration = Duration::from_secs(60);
/// Names asked for at a time when a whole list is wanted.
pub(crate) const PAGE_SIZE: i32 = 500;

/// The way to the service, which shows the key to it.
pub(crate) type Way = InterceptedService<Channel, Bearer>;

/// Shows a key with every call, where there is one.
#[derive(Debug, Clone, Default)]
pub(crate) struct Bearer(Option<MetadataValue<Ascii>>);

impl Bearer {
    /// Of a key's text.
    fn new(key: Option<&Secret>) -> Result<Self, Failure> {
        let Some(key) = key else { return Ok(Self::default()) };
        let mut value: MetadataValue<Ascii> =
            format!("Bearer {}", key.reveal().trim()).parse().map_err(|_| {
                Failure::usage(
                    "the key is no key of a service",
                    "Set NEXTRUNG_KEY to the whole key, nextrung-...",
                )
            })?;
        // Not shown in any log.
        value.set_sensitive(true);
        Ok(Self(Some(value)))
    }
}

impl Interceptor for Bearer {
    fn call(&mut self, mut request: tonic::Request<()>) -> Result<tonic::Request<()>, Status> {
        if let Some(value) = &self.0 {
            request.metadata_mut().insert("authorization", value.clone());
        }
        Ok(request)
    }
}

/// What is shown to the service, and what it must show.
#[derive(Debug, Clone, Default)]
pub(crate) struct Pass {
    /// The key of the caller.
    pub(crate) key: Option<Secret>,
    /// A file with the authority that vouches for the service; those that the machine knows when nothing.
    pub(crate) authority: Option<PathBuf>,
    /// Files with the caller's own certificate and its key, where the service asks for one.
    pub(crate) identity: Option<(PathBuf, PathBuf)>,
}

impl Pass {
    fn tls(&self) -> Result<ClientTlsConfig, Failure> {
        let mut config = ClientTlsConfig::new();
        if let Some((certificate, key)) = &self.identity {
            let certificate = pem(certificate, "Give your own certificate (--certificate).")?;
            let key = pem(key, "Give the key of your certificate (--certificate-key).")?;
            config = config.identity(Identity::from_pem(certificate, key));
        }
        let Some(file) = &self.authority else { return Ok(config.with_native_roots()) };
        let authority = pem(file, "Give the authority's certificate (--authority).")?;
        Ok(config.ca_certificate(Certificate::from_pem(authority)))
    }
}

fn pem(file: &Path, advice: &str) -> Result<Vec<u8>, Failure> {
    let unreadable = |error| Failure::usage(format!("{} cannot be read: {error}", file.display()), advice);
    std::fs::read(file).map_err(unreadable)
}

/// A connection to a running service.
#[derive(Debug, Clone)]
pub(crate) struct Connection {
    way: Way,
}

impl Connection {
    /// Connects to `http://HOST:PORT`, or by TLS to `https://HOST:PORT`.
    pub(crate) async fn open(server: &str, pass: &Pass) -> Result<Self, Failure> {
        let advice =
            "Write it like http://127.0.0.1:7878, or https://... for a service that has a certificate.";
        let is_secure = server.starts_with("https://");
        if !is_secure && !server.starts_with("http://") {
            return Err(Failure::usage(format!("`{server}` is not the address of a service"), advice));
        }
        let bearer = Bearer::new(pass.key.as_ref())?;
        let wrong = |error| Failure::usage(format!("`{server}` is not an address: {error}"), advice);
        let mut endpoint = Endpoint::from_shared(server.to_owned()).map_err(wrong)?;
        if is_secure {
            let advice = "Look at the files of --authority, --certificate and --certificate-key.";
            let unusable =
                |error| Failure::usage(format!("TLS cannot be used: {}", root_cause(&error)), advice);
            endpoint = endpoint.tls_config(pass.tls()?).map_err(unusable)?;
        }
        let endpoint = endpoint.connect_timeout(CONNECT).timeout(ANSWER);
        let channel = endpoint.connect().await.map_err(|error| Failure::Unreachable {
            server: server.to_owned(),
            message: root_cause(&error),
        })?;
        Ok(Self { way: InterceptedService::new(channel, bearer) })
    }

    /// Rosters.
    pub(crate) fn rosters(&self) -> RosterServiceClient<Way> {
        RosterServiceClient::new(self.way.clone())
    }

    /// Athletes.
    pub(crate) fn athletes(&self) -> AthleteServiceClient<Way> {
        AthleteServiceClient::new(self.way.clone())
    }

    /// The log of sets.
    pub(crate) fn sets(&self) -> SetLogServiceClient<Way> {
        SetLogServiceClient::new(self.way.clone())
    }

    /// Prescriptions.
    pub(crate) fn prescriptions(&self) -> PrescriptionServiceClient<Way> {
        PrescriptionServiceClient::new(self.way.clone())
    }

    /// Ladders.
    pub(crate) fn ladders(&self) -> LadderServiceClient<Way> {
        LadderServiceClient::new(self.way.clone())
    }

    /// Estimates.
    pub(crate) fn capacity(&self) -> CapacityServiceClient<Way> {
        CapacityServiceClient::new(self.way.clone())
    }

    /// Reviews.
    pub(crate) fn reviews(&self) -> ReviewServiceClient<Way> {
        ReviewServiceClient::new(self.way.clone())
    }

    /// Replays.
    pub(crate) fn replays(&self) -> ReplayServiceClient<Way> {
        ReplayServiceClient::new(self.way.clone())
    }

    /// Every ladder.
    pub(crate) async fn all_ladders(&self) -> Result<v1::ListLaddersResponse, Failure> {
        let ladders = all_pages(async |page_token| {
            let request = v1::ListLaddersRequest { page_size: PAGE_SIZE, page_token };
            let page = answer(self.ladders().list_ladders(request)).await?;
            Ok((page.ladders, page.next_page_token))
        });
        Ok(v1::ListLaddersResponse { ladders: ladders.await?, next_page_token: String::new() })
    }

    /// Every athlete of a roster, a resource name.
    pub(crate) async fn all_athletes(&self, parent: &str) -> Result<v1::ListAthletesResponse, Failure> {
        let athletes = all_pages(async |page_token| {
            let request =
                v1::ListAthletesRequest { parent: parent.to_owned(), page_size: PAGE_SIZE, page_token };
            let page = answer(self.athletes().list_athletes(request)).await?;
            Ok((page.athletes, page.next_page_token))
        });
        Ok(v1::ListAthletesResponse { athletes: athletes.await?, next_page_token: String::new() })
    }
}

/// Every page of a list: `ask` takes a page token and gives what is on the page, with the token of the next.
pub(crate) async fn all_pages<T>(
    mut ask: impl AsyncFnMut(String) -> Result<(Vec<T>, String), Failure>,
) -> Result<Vec<T>, Failure> {
    let mut all = Vec::new();
    let mut token = String::new();
    loop {
        let (page, next) = ask(token).await?;
        all.extend(page);
        if next.is_empty() {
            return Ok(all);
        }
        token = next;
    }
}

/// Waits for an answer of the service.
pub(crate) async fn answer<T>(call: impl Future<Output = Result<Response<T>, Status>>) -> Result<T, Failure> {
    let answered = call.await;
    answered.map(Response::into_inner).map_err(|status| Failure::Refused(Box::new(Refusal::read(&status))))
}

/// A part of an answer that the contract promises.
pub(crate) fn promised<T>(part: Option<T>, what: &str) -> Result<T, Failure> {
    part.ok_or_else(|| Failure::internal(&format!("the service answered without {what}")))
}

/// The last error of a chain: the first ones only say that there was one.
fn root_cause(error: &dyn Error) -> String {
    let mut last = error;
    while let Some(source) = last.source() {
        last = source;
    }
    last.to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn an_address_that_is_none_is_wrong_usage() {
        for server in ["127.0.0.1:7878", "ftp://127.0.0.1:7878", "http://a b"] {
            assert_eq!(
                Connection::open(server, &Pass::default()).await.unwrap_err().exit_code(),
                2,
                "{server}"
            );
        }
    }

    #[tokio::test]
    async fn nobody_listening_is_unreachable() {
        let free = std::net::TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap();
        assert_eq!(
            Connection::open(&format!("http://{free}"), &Pass::default()).await.unwrap_err().exit_code(),
            3
        );
    }

    #[tokio::test]
    async fn pages_are_read_to_the_last() {
        let all = all_pages(async |token: String| {
            Ok(if token.is_empty() { (vec![1, 2], "next".to_owned()) } else { (vec![3], String::new()) })
        });
        assert_eq!(all.await.unwrap(), [1, 2, 3]);
    }

    #[test]
    fn a_missing_part_is_a_fault() {
        assert_eq!(promised::<u8>(None, "a roster").unwrap_err().exit_code(), 4);
    }
}
