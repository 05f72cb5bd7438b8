//! Names people know for the numbers that the core works with.

use cringle_core::boat::Boat;
use cringle_core::ladder::{AtOnceId, ItemId, Ladder, PlanId, RiggedId};
use cringle_core::reading::SourceId;
use cringle_wire::source::Source;

/// Names of plans, items and ports.
#[derive(Clone, Debug, Default)]
pub struct Names {
    ladder: Ladder,
    ports: Vec<String>,
}

impl Names {
    /// From the boat and the names of its ports by number.
    pub fn new(boat: &Boat, ports: Vec<String>) -> Names {
        Names {
            ladder: boat.ladder.clone(),
            ports,
        }
    }

    /// A plan as the crew says it.
    pub fn plan(&self, id: PlanId) -> String {
        match self.ladder.plan(id) {
            Some(plan) => plan.name.as_str().into(),
            None => format!("plan {}", id.0),
        }
    }

    /// A plan by its name.
    pub fn plan_named(&self, name: &str) -> Option<PlanId> {
        let place = self.ladder.plans.iter().position(|p| p.name == name)?;
        Some(PlanId(u8::try_from(place).ok()?))
    }

    /// A set-up item as the crew says it.
    pub fn item(&self, id: ItemId) -> String {
        match self.ladder.item(id) {
            Some(item) => item.name.as_str().into(),
            None => format!("item {}", id.0),
        }
    }

    /// A set-up item by its name.
    pub fn item_named(&self, name: &str) -> Option<ItemId> {
        let place = self.ladder.setup.iter().position(|i| i.name == name)?;
        Some(ItemId(u8::try_from(place).ok()?))
    }

    /// What can be in a change's way, as the crew says it.
    pub fn rigged(&self, id: RiggedId) -> String {
        match self.ladder.rigged_item(id) {
            Some(item) => item.name.as_str().into(),
            None => format!("item {}", id.0),
        }
    }

    /// What can be done at once, as the crew says it.
    pub fn at_once(&self, id: AtOnceId) -> String {
        self.ladder.at_once(id).name.as_str().into()
    }

    /// A port as the boat file calls it.
    pub fn port(&self, port: u8) -> String {
        match self.ports.get(usize::from(port)) {
            Some(name) => name.clone(),
            None => format!("port {port}"),
        }
    }

    /// A source: `WIMWV on masthead`.
    pub fn source(&self, id: SourceId) -> String {
        match Source::unpack(id) {
            Some(source) => format!(
                "{}{} on {}",
                source.talker,
                source.formatter,
                self.port(source.port)
            ),
            None => format!("source {}", id.0),
        }
    }
}
