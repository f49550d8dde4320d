//! The JSON interface for people: every call with its fields, an example and its errors, made from the API's description.

use std::collections::BTreeSet;
use std::sync::OnceLock;

use askama::Template;
use axum::extract::State;
use axum::response::Response;
use serde_json::{Map, Value};

use crate::app::App;
use crate::web::router::{description, route_table};
use crate::web::{Error, Path, Route, Section, Shell, Who, page};

#[derive(Template)]
#[template(path = "reference/calls.html")]
struct CallsPage {
    shell: Shell,
    address: String,
    groups: Vec<Group>,
}

struct Group {
    name: String,
    about: String,
    calls: Vec<Line>,
}

struct Line {
    method: String,
    path: String,
    anchor: String,
    summary: Prose,
    who: &'static str,
}

#[derive(Template)]
#[template(path = "reference/call_group.html")]
struct GroupPage {
    shell: Shell,
    name: String,
    about: String,
    calls: Vec<Call>,
    shapes: Vec<Shape>,
}

struct Call {
    line: Line,
    says: Prose,
    parameters: Vec<Field>,
    /// What is sent: the name of its shape, if it has one, its fields, and an example.
    body: Option<Body>,
    answers: Vec<Answer>,
    errors: Vec<Failure>,
}

struct Body {
    media_type: String,
    fields: Vec<Field>,
    example: String,
}

struct Answer {
    status: String,
    says: Prose,
    media_type: String,
    fields: Vec<Field>,
    example: String,
}

struct Failure {
    status: String,
    says: Prose,
}

struct Field {
    name: String,
    /// In words: `text`, `list of Strip`.
    kind: String,
    /// The shape that it links to.
    shape: Option<String>,
    is_required: bool,
    says: Prose,
}

/// A named shape that fields of this group lead to.
struct Shape {
    name: String,
    says: Prose,
    fields: Vec<Field>,
}

/// A sentence of the description, in which names of code stand between backticks.
struct Prose(Vec<Words>);

struct Words {
    text: String,
    is_code: bool,
}

impl Prose {
    fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}

fn prose(value: &Value) -> Prose {
    let parts = value.as_str().unwrap_or_default().split('`').enumerate();
    let words = parts.map(|(place, text)| Words {
        text: text.to_owned(),
        is_code: place % 2 == 1,
    });
    Prose(words.filter(|words| !words.text.is_empty()).collect())
}

fn document(app: &App) -> &'static Value {
    static DOCUMENT: OnceLock<Value> = OnceLock::new();
    DOCUMENT.get_or_init(|| serde_json::to_value(description(app)).unwrap_or_default())
}

fn text(value: &Value) -> String {
    value.as_str().unwrap_or_default().to_owned()
}

/// Who may call, in a word.
fn who_may(who: Who) -> &'static str {
    match who {
        Who::Anyone => "anyone",
        Who::Visitor => "members, and guests where the workshop lets them look",
        Who::Member => "members",
        Who::Owner => "the member whose it is, and stewards",
        Who::Steward => "stewards",
    }
}

/// Every call of a group, in the order of the paths.
fn calls<'a>(document: &'a Value, table: &[Route], tag: &str) -> Vec<(Line, &'a Value)> {
    let mut found = Vec::new();
    for (path, item) in document["paths"].as_object().into_iter().flatten() {
        for (method, operation) in item.as_object().into_iter().flatten() {
            if operation["tags"][0] != tag {
                continue;
            }
            let method = method.to_uppercase();
            let route = table
                .iter()
                .find(|route| route.path == *path && route.method.as_str() == method);
            let line = Line {
                anchor: format!("{method}-{path}").replace(['/', '{', '}', '.'], "-"),
                summary: prose(&operation["summary"]),
                who: route.map_or("anyone", |route| who_may(route.who)),
                path: path.clone(),
                method,
            };
            found.push((line, operation));
        }
    }
    found
}

pub(super) async fn list(State(app): State<App>, shell: Shell) -> Result<Response, Error> {
    let document = document(&app);
    let table = route_table(&app);
    let tags = document["tags"].as_array();
    let groups = tags.into_iter().flatten().map(|tag| Group {
        calls: calls(document, &table, tag["name"].as_str().unwrap_or_default())
            .into_iter()
            .map(|(line, _)| line)
            .collect(),
        name: text(&tag["name"]),
        about: text(&tag["description"]),
    });
    page(&CallsPage {
        address: app.config.public_url.clone(),
        groups: groups.filter(|group| !group.calls.is_empty()).collect(),
        shell: shell.at(Section::Reference),
    })
}

pub(super) async fn show(
    State(app): State<App>,
    shell: Shell,
    Path(name): Path<String>,
) -> Result<Response, Error> {
    let document = document(&app);
    let tags = document["tags"].as_array();
    let tag = tags
        .into_iter()
        .flatten()
        .find(|tag| tag["name"] == *name)
        .ok_or_else(|| Error::NotFound("There is no such group of calls.".into()))?;
    let reader = Reader { document };
    let mut shapes = BTreeSet::new();
    let calls: Vec<Call> = calls(document, &route_table(&app), &name)
        .into_iter()
        .map(|(line, operation)| reader.call(line, operation, &mut shapes))
        .collect();
    page(&GroupPage {
        about: text(&tag["description"]),
        calls,
        shapes: reader.shapes(shapes),
        name,
        shell: shell.at(Section::Reference),
    })
}

/// Reads schemas of the description.
struct Reader {
    document: &'static Value,
}

impl Reader {
    fn named(&self, name: &str) -> &'static Value {
        &self.document["components"]["schemas"][name]
    }

    /// A schema itself, and the name under which it is kept.
    fn resolved(&self, schema: &'static Value) -> (&'static Value, Option<&'static str>) {
        match schema["$ref"].as_str() {
            Some(reference) => {
                let name = reference.rsplit('/').next().unwrap_or_default();
                (self.named(name), Some(name))
            }
            None => (schema, None),
        }
    }

    /// What a schema is, in words, and the named shape that it is or lists.
    fn kind(&self, schema: &'static Value) -> (String, Option<String>) {
        if let Some(reference) = schema["$ref"].as_str() {
            let name = reference.rsplit('/').next().unwrap_or_default();
            return if name == "Length" {
                ("length".to_owned(), None)
            } else {
                (name.to_owned(), Some(name.to_owned()))
            };
        }
        // A shape that may be null is one of it and null.
        for several in ["oneOf", "anyOf", "allOf"] {
            let choices = schema[several].as_array();
            let choice = choices
                .into_iter()
                .flatten()
                .find(|choice| choice["type"] != "null");
            if let Some(choice) = choice {
                return self.kind(choice);
            }
        }
        let kind = match &schema["type"] {
            Value::Array(kinds) => kinds.iter().find(|kind| *kind != "null"),
            kind => Some(kind),
        };
        match kind.and_then(Value::as_str) {
            Some("array") => {
                let (kind, shape) = self.kind(&schema["items"]);
                (format!("list of {kind}"), shape)
            }
            Some("string") => match schema["format"].as_str() {
                Some("date-time") => ("time (RFC 3339)".to_owned(), None),
                _ => ("text".to_owned(), None),
            },
            Some("integer") => ("whole number".to_owned(), None),
            Some("number") => ("number".to_owned(), None),
            Some("boolean") => ("true or false".to_owned(), None),
            Some(other) => (other.to_owned(), None),
            None => ("anything".to_owned(), None),
        }
    }

    fn fields(&self, schema: &'static Value, shapes: &mut BTreeSet<String>) -> Vec<Field> {
        let (schema, _) = self.resolved(schema);
        let mut fields = Vec::new();
        for part in std::iter::once(schema).chain(schema["allOf"].as_array().into_iter().flatten())
        {
            let (part, _) = self.resolved(part);
            let required = part["required"].as_array();
            for (name, field) in part["properties"].as_object().into_iter().flatten() {
                let (kind, shape) = self.kind(field);
                shapes.extend(shape.clone());
                fields.push(Field {
                    is_required: required.is_some_and(|list| list.iter().any(|one| one == name)),
                    says: prose(&field["description"]),
                    name: name.clone(),
                    kind,
                    shape,
                });
            }
        }
        fields
    }

    /// An example of a schema: its own, or one made of those of its fields.
    fn example(&self, schema: &'static Value, depth: u8) -> Value {
        let (schema, _) = self.resolved(schema);
        if !schema["example"].is_null() {
            return schema["example"].clone();
        }
        if !schema["examples"][0].is_null() {
            return schema["examples"][0].clone();
        }
        for several in ["oneOf", "anyOf", "allOf"] {
            let choices = schema[several].as_array();
            let choice = choices
                .into_iter()
                .flatten()
                .find(|choice| choice["type"] != "null");
            if let Some(choice) = choice {
                return self.example(choice, depth);
            }
        }
        let kind = match &schema["type"] {
            Value::Array(kinds) => kinds.iter().find(|kind| *kind != "null"),
            kind => Some(kind),
        };
        match kind.and_then(Value::as_str) {
            Some("object") if depth > 0 => {
                let mut fields = Map::new();
                for (name, field) in schema["properties"].as_object().into_iter().flatten() {
                    fields.insert(name.clone(), self.example(field, depth - 1));
                }
                Value::Object(fields)
            }
            Some("array") if depth > 0 => {
                Value::Array(vec![self.example(&schema["items"], depth - 1)])
            }
            Some("object") => Value::Object(Map::new()),
            Some("array") => Value::Array(Vec::new()),
            Some("integer") => Value::from(1),
            Some("number") => Value::from(1.0),
            Some("boolean") => Value::Bool(true),
            Some("string") if schema["format"] == "date-time" => "2027-03-01T17:00:00Z".into(),
            Some("string") => "".into(),
            _ => Value::Null,
        }
    }

    fn pretty(&self, content: &'static Value) -> String {
        let example = if content["example"].is_null() {
            self.example(&content["schema"], 4)
        } else {
            content["example"].clone()
        };
        match example {
            Value::String(text) => text,
            other => serde_json::to_string_pretty(&other).unwrap_or_default(),
        }
    }

    fn call(&self, line: Line, operation: &'static Value, shapes: &mut BTreeSet<String>) -> Call {
        let parameters = operation["parameters"].as_array();
        let parameters = parameters.into_iter().flatten().map(|parameter| Field {
            name: text(&parameter["name"]),
            kind: format!(
                "{}, in the {}",
                self.kind(&parameter["schema"]).0,
                match parameter["in"].as_str() {
                    Some("header") => "header",
                    Some("query") => "query",
                    _ => "path",
                }
            ),
            shape: None,
            is_required: parameter["required"] == true,
            says: prose(&parameter["description"]),
        });
        let parameters = parameters.collect();
        let body = operation["requestBody"]["content"].as_object();
        let body = body.and_then(|content| content.iter().next());
        let body = body.map(|(media_type, content)| Body {
            media_type: media_type.clone(),
            fields: self.fields(&content["schema"], shapes),
            example: if is_text(media_type) {
                self.pretty(content)
            } else {
                String::new()
            },
        });
        let (mut answers, mut errors) = (Vec::new(), Vec::new());
        for (status, response) in operation["responses"].as_object().into_iter().flatten() {
            if status.starts_with('2') {
                let content = response["content"].as_object();
                let (media_type, content) = content
                    .and_then(|content| content.iter().next())
                    .map_or(("", &Value::Null), |(name, content)| {
                        (name.as_str(), content)
                    });
                answers.push(Answer {
                    status: status.clone(),
                    says: prose(&response["description"]),
                    fields: self.fields(&content["schema"], shapes),
                    example: if media_type == "application/json" {
                        self.pretty(content)
                    } else {
                        String::new()
                    },
                    media_type: media_type.to_owned(),
                });
            } else {
                errors.push(Failure {
                    status: status.clone(),
                    says: self.failure(response),
                });
            }
        }
        Call {
            says: prose(&operation["description"]),
            parameters,
            body,
            answers,
            errors,
            line,
        }
    }

    fn failure(&self, response: &'static Value) -> Prose {
        let name = response["$ref"]
            .as_str()
            .and_then(|text| text.rsplit('/').next());
        match name {
            Some(name) => prose(&self.document["components"]["responses"][name]["description"]),
            None => prose(&response["description"]),
        }
    }

    /// The shapes that are named, and those that they name in turn.
    fn shapes(&self, wanted: BTreeSet<String>) -> Vec<Shape> {
        let mut shapes: Vec<Shape> = Vec::new();
        let mut waiting: Vec<String> = wanted.into_iter().rev().collect();
        while let Some(name) = waiting.pop() {
            if shapes.iter().any(|shape| shape.name == name) {
                continue;
            }
            let schema = self.named(&name);
            let mut further = BTreeSet::new();
            let mut fields = self.fields(schema, &mut further);
            for choice in schema["oneOf"].as_array().into_iter().flatten() {
                for field in self.fields(choice, &mut further) {
                    if fields.iter().all(|known| known.name != field.name) {
                        fields.push(Field {
                            is_required: false,
                            ..field
                        });
                    }
                }
            }
            waiting.extend(further);
            shapes.push(Shape {
                says: prose(&schema["description"]),
                name,
                fields,
            });
        }
        shapes.sort_by(|one, other| one.name.cmp(&other.name));
        shapes
    }
}

fn is_text(media_type: &str) -> bool {
    media_type == "application/json" || media_type.starts_with("text/")
}
