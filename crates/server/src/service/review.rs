//! The review service of the contract.

use nextrung_api::v1;
use nextrung_api::v1::review_service_server::ReviewService;
use tonic::{Request, Response, Status};

use super::{Api, gates, limiters};

#[tonic::async_trait]
impl ReviewService for Api {
    async fn review_limiters(
        &self,
        request: Request<v1::ReviewLimitersRequest>,
    ) -> Result<Response<v1::ReviewLimitersResponse>, Status> {
        limiters::review(self, request.into_inner()).await.map(Response::new)
    }

    async fn review_gates(
        &self,
        request: Request<v1::ReviewGatesRequest>,
    ) -> Result<Response<v1::ReviewGatesResponse>, Status> {
        gates::review(self, request.into_inner()).await.map(Response::new)
    }
}
