//! Route: which method a path and a verb of HTTP call, read from the descriptors.

use std::sync::LazyLock;

use http::Method;
use prost_reflect::{DynamicMessage, FieldDescriptor, MethodDescriptor, Value};

use super::pool::POOL;
use super::template::{Bound, Template};

/// The option of a method that says over which paths it is called.
const OPTION: &str = "google.api.http";

/// One way to call a method.
#[derive(Debug)]
pub struct Route {
    /// The verb of HTTP.
    pub verb: Method,
    /// The path.
    pub template: Template,
    /// What the body is.
    pub carried: Carried,
    /// The method.
    pub method: MethodDescriptor,
    /// The method as gRPC calls it, `/nextrung.v1.{service}/{method}`.
    pub path: String,
}

/// What of a request its body is.
#[derive(Debug)]
pub enum Carried {
    /// Nothing: there is no body.
    Nothing,
    /// All that does not stand in the path.
    All,
    /// One field.
    Field(FieldDescriptor),
}

/// A route with the fields that its path binds.
#[derive(Debug)]
pub struct Call {
    /// The route.
    pub route: &'static Route,
    /// The fields that stand in the path, with their values.
    pub bound: Vec<Bound>,
}

/// What a path and a verb are for.
#[derive(Debug)]
pub enum Found {
    /// A call.
    Call(Call),
    /// Nothing with this verb, but with these.
    OtherVerbs(Vec<Method>),
    /// Nothing.
    Nothing,
}

/// Every route of the contract, in the order of its files.
pub static ROUTES: LazyLock<Vec<Route>> =
    LazyLock::new(|| methods().iter().flat_map(|method| of(method).unwrap_or_default()).collect());

impl Route {
    /// Whether a body is wanted.
    pub(crate) fn takes_body(&self) -> bool {
        !matches!(self.carried, Carried::Nothing)
    }

    fn read(method: &MethodDescriptor, rule: &DynamicMessage) -> Option<Self> {
        let text = |name: &str| Some(rule.get_field_by_name(name)?.as_str()?.to_owned());
        let verbs = [
            ("get", Method::GET),
            ("post", Method::POST),
            ("put", Method::PUT),
            ("patch", Method::PATCH),
            ("delete", Method::DELETE),
        ];
        let (name, verb) = verbs.into_iter().find(|(name, _)| rule.has_field_by_name(name))?;
        let carried = match text("body")?.as_str() {
            "" => Carried::Nothing,
            "*" => Carried::All,
            field => Carried::Field(method.input().get_field_by_name(field)?),
        };
        let template = Template::parse(&text(name)?)?;
        let path = format!("/{}/{}", method.parent_service().full_name(), method.name());
        Some(Self { verb, template, carried, method: method.clone(), path })
    }
}

/// Every method of the contract.
pub(crate) fn methods() -> Vec<MethodDescriptor> {
    POOL.services().flat_map(|service| service.methods().collect::<Vec<_>>()).collect()
}

/// The ways to call a method; nothing when it says none, or one that cannot be read.
pub(crate) fn of(method: &MethodDescriptor) -> Option<Vec<Route>> {
    let option = POOL.get_extension_by_name(OPTION)?;
    let options = method.options();
    if !options.has_extension(&option) {
        return None;
    }
    let rule = options.get_extension(&option);
    let rule = rule.as_message()?;
    let more = rule.get_field_by_name("additional_bindings")?;
    let more = more.as_list()?.iter().map(Value::as_message);
    std::iter::once(Some(rule)).chain(more).map(|rule| Route::read(method, rule?)).collect()
}

/// What a path and a verb are for.
pub fn found(routes: &'static [Route], (verb, path): (&Method, &str)) -> Found {
    let mut others = Vec::new();
    for route in routes {
        let Some(bound) = route.template.matched(path) else { continue };
        if route.verb == *verb {
            return Found::Call(Call { route, bound });
        }
        if !others.contains(&route.verb) {
            others.push(route.verb.clone());
        }
    }
    if others.is_empty() { Found::Nothing } else { Found::OtherVerbs(others) }
}
