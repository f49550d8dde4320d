//! A form as data: what stewards set is many fields of few kinds, all shown, refused and compared in one way.

use askama::Template;
use axum::response::Response;

use crate::web::{Error, Section, Shell, Typed, page, page_again};

/// How a field is filled in.
pub(in crate::web::pages) enum Input {
    /// One line; an input type and an input mode of HTML.
    Line(&'static str, &'static str),
    /// One of (value, words).
    Choice(Vec<(String, String)>),
    /// Any of (value, words).
    Several(Vec<(String, String)>),
    Tick,
}

pub(in crate::web::pages) struct Field {
    pub name: String,
    pub label: String,
    pub hint: String,
    pub is_required: bool,
    pub input: Input,
}

/// Some fields under a heading.
#[derive(Default)]
pub(in crate::web::pages) struct Group {
    /// Empty where a form has one group only.
    pub heading: &'static str,
    pub says: String,
    pub fields: Vec<Field>,
}

impl Field {
    pub fn line(name: impl Into<String>, label: impl Into<String>) -> Field {
        Field {
            name: name.into(),
            label: label.into(),
            hint: String::new(),
            is_required: true,
            input: Input::Line("text", ""),
        }
    }

    pub fn whole(name: impl Into<String>, label: impl Into<String>) -> Field {
        Field {
            input: Input::Line("text", "numeric"),
            ..Field::line(name, label)
        }
    }

    pub fn decimal(name: impl Into<String>, label: impl Into<String>) -> Field {
        Field {
            input: Input::Line("text", "decimal"),
            ..Field::line(name, label)
        }
    }

    pub fn day(name: impl Into<String>, label: impl Into<String>) -> Field {
        Field {
            input: Input::Line("date", ""),
            ..Field::line(name, label)
        }
    }

    pub fn choice(
        name: impl Into<String>,
        label: impl Into<String>,
        options: Vec<(String, String)>,
    ) -> Field {
        Field {
            input: Input::Choice(options),
            ..Field::line(name, label)
        }
    }

    pub fn several(
        name: impl Into<String>,
        label: impl Into<String>,
        options: Vec<(String, String)>,
    ) -> Field {
        Field {
            input: Input::Several(options),
            is_required: false,
            ..Field::line(name, label)
        }
    }

    pub fn tick(name: impl Into<String>, label: impl Into<String>) -> Field {
        Field {
            input: Input::Tick,
            is_required: false,
            ..Field::line(name, label)
        }
    }

    pub fn hint(self, hint: impl Into<String>) -> Field {
        Field {
            hint: hint.into(),
            ..self
        }
    }

    pub fn optional(self) -> Field {
        Field {
            is_required: false,
            ..self
        }
    }

    /// What stands in the field, in words.
    fn said(&self, typed: &Typed) -> String {
        let words = |options: &[(String, String)]| {
            let chosen: Vec<&str> = options
                .iter()
                .filter(|(value, _)| typed.has(&self.name, value))
                .map(|(_, words)| words.as_str())
                .collect();
            chosen.join(", ")
        };
        let said = match &self.input {
            Input::Line(..) => typed.text(&self.name).to_owned(),
            Input::Choice(options) | Input::Several(options) => words(options),
            Input::Tick => if typed.is_ticked(&self.name) {
                "yes"
            } else {
                "no"
            }
            .to_owned(),
        };
        if said.is_empty() {
            "nothing".to_owned()
        } else {
            said
        }
    }
}

/// What somebody else put into a field while this form was filled in.
struct Difference {
    label: String,
    theirs: String,
    yours: String,
}

/// What somebody else did to the thing while this form was filled in.
#[derive(PartialEq, Eq)]
enum Meanwhile {
    Nothing,
    Changed,
    Removed,
}

/// A page that is one form. Its version goes along, so that no change of somebody else is overwritten unseen.
#[derive(Template)]
#[template(path = "workshop/form.html")]
pub(in crate::web::pages) struct FormPage {
    pub shell: Shell,
    pub title: String,
    pub lead: String,
    /// Where the form is sent.
    pub action: String,
    /// Where leaving it leads.
    pub back: String,
    pub button: &'static str,
    pub groups: Vec<Group>,
    pub typed: Typed,
    /// Other forms of the same kind: words, address, and whether it is this one.
    pub beside: Vec<(&'static str, &'static str, bool)>,
    /// Where the thing can be removed, and what is asked first.
    pub removal: Option<(String, String)>,
    meanwhile: Meanwhile,
    differences: Vec<Difference>,
}

impl FormPage {
    pub fn new(
        shell: Shell,
        title: impl Into<String>,
        groups: Vec<Group>,
        typed: Typed,
    ) -> FormPage {
        FormPage {
            shell: shell.at(Section::Workshop),
            title: title.into(),
            lead: String::new(),
            action: String::new(),
            back: "/workshop".to_owned(),
            button: "Save",
            groups,
            typed,
            beside: Vec::new(),
            removal: None,
            meanwhile: Meanwhile::Nothing,
            differences: Vec::new(),
        }
    }

    pub fn lead(self, lead: impl Into<String>) -> FormPage {
        FormPage {
            lead: lead.into(),
            ..self
        }
    }

    /// Where the form is sent, and where leaving it leads.
    pub fn between(self, action: impl Into<String>, back: impl Into<String>) -> FormPage {
        FormPage {
            action: action.into(),
            back: back.into(),
            ..self
        }
    }

    pub fn beside(self, beside: Vec<(&'static str, &'static str, bool)>) -> FormPage {
        FormPage { beside, ..self }
    }

    pub fn removal(self, action: impl Into<String>, asks: impl Into<String>) -> FormPage {
        FormPage {
            removal: Some((action.into(), asks.into())),
            ..self
        }
    }

    /// The form as it is first shown.
    ///
    /// # Errors
    /// The template failed.
    pub fn show(&self) -> Result<Response, Error> {
        page(self)
    }

    /// The form with what is wrong with it.
    ///
    /// # Errors
    /// The template failed.
    pub fn again(&self) -> Result<Response, Error> {
        page_again(self)
    }

    /// The form beside what somebody else saved meanwhile. Sending it again puts it over theirs. `yours` is what was typed, as
    /// it would be shown once saved, so that only what means something else counts as different.
    ///
    /// # Errors
    /// The template failed.
    pub fn stale(mut self, newer: &Typed, yours: &Typed) -> Result<Response, Error> {
        self.meanwhile = Meanwhile::Changed;
        self.differences = self
            .groups
            .iter()
            .flat_map(|group| &group.fields)
            .map(|field| Difference {
                label: field.label.clone(),
                theirs: field.said(newer),
                yours: field.said(yours),
            })
            .filter(|difference| difference.theirs != difference.yours)
            .collect();
        self.typed
            .put("version", [newer.text("version").to_owned()]);
        page_again(&self)
    }

    /// The form of a thing that somebody removed meanwhile: sending it again makes the thing anew, at `action`.
    ///
    /// # Errors
    /// The template failed.
    pub fn gone(mut self, action: impl Into<String>) -> Result<Response, Error> {
        self.meanwhile = Meanwhile::Removed;
        self.action = action.into();
        self.removal = None;
        page_again(&self)
    }
}

/// The version that a form was made from; 0, which nothing has, where it has none.
pub(in crate::web::pages) fn version_of(typed: &Typed) -> i64 {
    typed.text("version").parse().unwrap_or(0)
}

/// Puts what a use case found wrong beside the fields, whose names are the pointers'.
pub(in crate::web::pages) fn refuse_all(typed: &mut Typed, flaws: Vec<crate::wire::FieldError>) {
    for flaw in flaws {
        // A place in a list is a row of the form.
        let field = flaw.pointer.trim_start_matches('/').replace('/', "-");
        typed.refuse(field, flaw.detail);
    }
}
