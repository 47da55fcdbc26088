//! Everything in the contract carries a comment.

use super::{Check, Finding, Tree};

/// Comments on messages, fields, methods and values.
pub(super) const PROTO_COMMENTS: Check = Check {
    name: "proto_comments",
    rule: "Every message, field, oneof, enum, value, service and method of the contract has a comment right above it.",
    find: proto_comments,
    broken: || {
        let plain: String =
            SOUND.lines().filter(|line| !line.trim().starts_with("//")).collect::<Vec<_>>().join("\n");
        let without = |number: usize| {
            let lines = SOUND.lines().enumerate().filter(|(index, _)| *index != number);
            lines.map(|(_, line)| line).collect::<Vec<_>>().join("\n")
        };
        let comments = SOUND.lines().enumerate().filter(|(_, line)| line.trim().starts_with("//"));
        let mut broken: Vec<_> = comments.map(|(number, _)| contract(&without(number))).collect();
        broken.extend([
            contract(&plain),
            contract(&SOUND.replace("// One.\n", "// One.\n\n")),
            Tree::of(&[]),
        ]);
        broken
    },
    sound: || vec![contract(SOUND)],
};

/// A contract of every kind of declaration, each with its comment.
const SOUND: &str = r#"syntax = "proto3";
package nextrung.v1;
import "nextrung/v1/date.proto";
option java_package = "x";
// One.
message A {
  option deprecated = true;
  reserved 4, 5;
  // A field.
  string name = 1;
  // A field over several lines.
  map<string, int32> counts = 2 [
    deprecated = true
  ];
  // A choice.
  oneof kind {
    // Its field.
    .google.protobuf.Timestamp at = 3;
  }
  // An inner one.
  enum E {
    // A value.
    E_UNSPECIFIED = 0;
  }
}
// An empty one.
message Empty {}
// A service.
service S {
  // A method.
  rpc Get(A) returns (A);
  // Another, with an option of its own.
  rpc Put(A) returns (A) {
    option (google.api.http) = {
      get: "/v1"
    };
  }
}
"#;

fn contract(text: &str) -> Tree {
    Tree::of(&[("proto/nextrung/v1/a.proto", text)])
}

fn proto_comments(tree: &Tree) -> Vec<Finding> {
    let mut found = Vec::new();
    let mut files = 0;
    for file in tree.with_extension("proto").filter(|file| file.path.starts_with("proto/nextrung/")) {
        files += 1;
        for (line, declaration) in bare_declarations(&file.text) {
            found.push(Finding::new(&file.path, line, format!("no comment on: {declaration}")));
        }
    }
    if files == 0 {
        found.push(Finding::new("proto/nextrung", 0, "no contract was found"));
    }
    found
}

/// The declarations without a comment right above, with their lines.
fn bare_declarations(text: &str) -> Vec<(usize, &str)> {
    let mut found = Vec::new();
    let mut commented = false;
    let mut option_depth: Option<i32> = None;
    let mut open = false;
    for (index, line) in text.lines().enumerate() {
        let line = line.trim();
        if line.starts_with("//") {
            commented = true;
            continue;
        }
        let code = line.split("//").next().unwrap_or(line).trim();
        if let Some(depth) = option_depth {
            option_depth = Some(depth + balance(code)).filter(|&depth| depth > 0 || !code.ends_with(';'));
        } else if code.starts_with("option ") {
            option_depth = Some(balance(code)).filter(|&depth| depth > 0 || !code.ends_with(';'));
        } else if !open && declares(code) && !commented {
            found.push((index + 1, code));
        }
        open = option_depth.is_none() && !code.is_empty() && !code.ends_with([';', '{', '}']);
        commented = false;
    }
    found
}

fn balance(code: &str) -> i32 {
    code.chars().map(|c| i32::from(c == '{') - i32::from(c == '}')).sum()
}

/// Whether a line begins a declaration that needs a comment.
fn declares(code: &str) -> bool {
    let first = code.split([' ', '(']).next().unwrap_or_default();
    let other = ["syntax", "edition", "import", "package", "reserved", "extensions", "}", "]", "};"];
    !code.is_empty() && !other.contains(&first)
}
