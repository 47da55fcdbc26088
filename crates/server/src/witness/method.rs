//! Method: the name of a method, if it is one of ours; whatever else a caller makes up is one word.

use std::collections::BTreeSet;
use std::sync::LazyLock;

use nextrung_api::v1;
use prost::Message;
use prost_types::FileDescriptorSet;

/// What stands for methods that are not there.
const OTHER: &str = "other";

static KNOWN: LazyLock<BTreeSet<String>> = LazyLock::new(|| {
    let own = [v1::FILE_DESCRIPTOR_SET, tonic_health::pb::FILE_DESCRIPTOR_SET];
    let mut known: BTreeSet<String> = own.into_iter().flat_map(methods).collect();
    known.insert("grpc.reflection.v1.ServerReflection/ServerReflectionInfo".to_owned());
    known
});

fn methods(descriptor: &[u8]) -> Vec<String> {
    let files = FileDescriptorSet::decode(descriptor).unwrap_or_default().file;
    let mut names = Vec::new();
    for file in &files {
        for service in &file.service {
            let service_name = format!("{}.{}", file.package(), service.name());
            names.extend(service.method.iter().map(|method| format!("{service_name}/{}", method.name())));
        }
    }
    names
}

/// The method of a path such as `/nextrung.v1.SetLogService/RecordSets`, without the slash before it.
pub(super) fn known(path: &str) -> &'static str {
    path.strip_prefix('/').and_then(|name| KNOWN.get(name)).map_or(OTHER, String::as_str)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_methods_that_are_there_have_a_name() {
        for name in [
            "nextrung.v1.SetLogService/RecordSets",
            "nextrung.v1.ReplayService/ReplayRoster",
            "grpc.health.v1.Health/Check",
            "grpc.reflection.v1.ServerReflection/ServerReflectionInfo",
        ] {
            assert_eq!(known(&format!("/{name}")), name);
        }
        for made_up in
            ["", "/", "/nextrung.v1.SetLogService/Wren", "nextrung.v1.SetLogService/RecordSets", "/x/y"]
        {
            assert_eq!(known(made_up), OTHER, "{made_up}");
        }
    }
}
