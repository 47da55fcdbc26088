//! End to end: a service in this process on a free loopback port with a database of its own, asked over gRPC.

#[cfg(test)]
mod access;
#[cfg(test)]
mod accesses;
#[cfg(test)]
mod allowances;
#[cfg(test)]
mod athletes;
#[cfg(test)]
mod bad_fields;
#[cfg(test)]
mod browser;
#[cfg(test)]
mod browsing;
#[cfg(test)]
mod cancel;
#[cfg(test)]
mod capacities;
#[cfg(test)]
mod databases;
#[cfg(test)]
mod erasures;
#[cfg(test)]
mod errors;
#[cfg(test)]
mod exports;
#[cfg(test)]
mod forecasts;
#[cfg(test)]
mod gates;
#[cfg(test)]
mod headers;
#[cfg(test)]
mod http1;
#[cfg(test)]
mod ladders;
#[cfg(test)]
mod limits;
#[cfg(test)]
mod messages;
#[cfg(test)]
mod operations;
#[cfg(test)]
mod pages;
#[cfg(test)]
mod plain_http;
#[cfg(test)]
mod prescriptions;
#[cfg(test)]
mod refusal;
#[cfg(test)]
mod repeats;
#[cfg(test)]
mod replay_figures;
#[cfg(test)]
mod replay_scene;
#[cfg(test)]
mod replays;
#[cfg(test)]
mod reviews;
#[cfg(test)]
mod rosters;
#[cfg(test)]
mod service;
#[cfg(test)]
mod set_log;
#[cfg(test)]
mod stopping;
#[cfg(test)]
mod suppositions;
#[cfg(test)]
mod tls;
#[cfg(test)]
mod trends;
#[cfg(test)]
mod watching;
#[cfg(test)]
mod weeks;
#[cfg(test)]
mod whys;
#[cfg(test)]
mod wire;
