//! Page: every setting, for people.

use super::entries;
use super::layers::{OF_CLIENTS, flag, variable};
use super::reading::Entry;

const HEAD: &str = "# Settings of the service

`nextrung serve` takes every setting in three ways. A flag counts before a variable of the environment, and that before the
file that `--config FILE` (or `NEXTRUNG_CONFIG`) names:

```
nextrung serve --limits-calls 500
NEXTRUNG_LIMITS_CALLS=500 nextrung serve
nextrung serve --config nextrung.toml       # with the line: limits.calls = 500
```

- Times and sizes have units: `500ms`, `30s`, `5min`; `512KiB`, `4MiB`. `none` stands for no value.
- Keys, flags and variables that nobody knows are errors, and so is every bad value, also one that a higher layer overrules.
  All are told at once, with where they stand, and nothing is started.
- `nextrung serve --show-config` prints what is in force and where each value comes from, as a file that says the same again.
  It starts nothing. Secrets are never shown, neither there nor in a log nor in an error.
- {of-clients} belong to the
  verbs that speak to a service and are passed over.

This page is written by the program (`cargo run -p nextrung-server --example settings_page > deploy/SETTINGS.md`), and a test
holds it to the code.
";

/// The page.
pub fn page() -> String {
    let one = |entry: &Entry| {
        let Entry { key, about, expected, default, .. } = entry;
        let (flag, variable) = (flag(key), variable(key));
        format!("\n## `{key}`\n{about}\n\n`{flag}`, `{variable}`; {expected}; default `{default}`\n")
    };
    let of_clients = OF_CLIENTS.map(|name| format!("`{name}`")).join(", ");
    HEAD.replace("{of-clients}", &of_clients) + &entries().iter().map(one).collect::<String>()
}
