//! Raw calls: messages as bytes, for what no client of ours would send.

use tonic::codec::{Codec, DecodeBuf, Decoder, EncodeBuf, Encoder};
use tonic::transport::Channel;
use tonic::{Request, Status};

use prost::bytes::{Buf, BufMut};

#[derive(Default)]
struct Bytes;

impl Codec for Bytes {
    type Encode = Vec<u8>;
    type Decode = Vec<u8>;
    type Encoder = Self;
    type Decoder = Self;

    fn encoder(&mut self) -> Self {
        Self
    }

    fn decoder(&mut self) -> Self {
        Self
    }
}

impl Encoder for Bytes {
    type Item = Vec<u8>;
    type Error = Status;

    fn encode(&mut self, item: Vec<u8>, into: &mut EncodeBuf<'_>) -> Result<(), Status> {
        into.put_slice(&item);
        Ok(())
    }
}

impl Decoder for Bytes {
    type Item = Vec<u8>;
    type Error = Status;

    fn decode(&mut self, from: &mut DecodeBuf<'_>) -> Result<Option<Vec<u8>>, Status> {
        let mut item = vec![0; from.remaining()];
        from.copy_to_slice(&mut item);
        Ok(Some(item))
    }
}

/// Calls a method with a message; gives the first message of the answer, or why there is none.
pub(crate) async fn call(channel: &Channel, path: &str, message: Vec<u8>) -> Result<Option<Vec<u8>>, Status> {
    let mut client = tonic::client::Grpc::new(channel.clone());
    client.ready().await.unwrap();
    let answer = client.server_streaming(Request::new(message), path.parse().unwrap(), Bytes).await?;
    answer.into_inner().message().await
}
