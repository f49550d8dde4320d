use crate::app::{App, NewLink};
use crate::store::{MemberId, Role};

/// The password of everybody in the invented workshop.
pub const DEMO_PASSWORD: &str = "shavings on the floor";

/// Somebody who may sign in to the invented workshop.
#[derive(Clone, Debug)]
pub struct DemoMember {
    pub id: MemberId,
    pub name: &'static str,
    pub sign_in_name: &'static str,
    pub role: Role,
}

const PEOPLE: [(&str, &str, Role); 6] = [
    ("Odile Marram", "odile", Role::Steward),
    ("Bram Tench", "bram", Role::Member),
    ("Ines Sorrel", "ines", Role::Member),
    ("Petra Wisp", "petra", Role::Member),
    ("Tobias Quern", "tobias", Role::Member),
    ("Maud Furrow", "maud", Role::Steward),
];

pub(super) async fn fill(app: &App) -> anyhow::Result<Vec<DemoMember>> {
    let mut members: Vec<DemoMember> = Vec::new();
    for (name, sign_in_name, role) in PEOPLE {
        let secret = match members.first() {
            None => app
                .first_steward_link()
                .await?
                .ok_or_else(|| anyhow::anyhow!("the workshop has a steward already"))?,
            Some(steward) => {
                let link = NewLink::Invitation {
                    role,
                    name,
                    by: steward.id,
                };
                app.make_link(link).await?.0
            }
        };
        let (id, _) = app
            .join(secret.reveal(), name, sign_in_name, DEMO_PASSWORD)
            .await?;
        members.push(DemoMember {
            id,
            name,
            sign_in_name,
            role,
        });
    }
    Ok(members)
}
