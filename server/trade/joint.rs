//! Cream and skim from one pail: one cost, and more than one thing to carry it.
//!
//! No way of sharing is the true one, because no cow was ever milked for her cream alone. So the farm chooses a way and
//! the report names it. Whether skimming pays is another question, and no share answers it: there, what more it brings
//! stands against what more it costs.

use super::{Fault, measure::Weight, money::Money};
use std::fmt;

/// A way to share what a pail cost.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// By weight: plain, and cream costs no more a pound than skim.
    Weight,
    /// By what each brings less its own costs, as it stands when the pail is parted.
    Brings,
    /// What is made on the side carries what it brings less its own costs; the milk carries the rest.
    OnTheSide,
}

impl Way {
    /// Every way, the plainest first.
    pub const ALL: [Way; 3] = [Way::Weight, Way::Brings, Way::OnTheSide];
}

impl fmt::Display for Way {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Way::Weight => "by weight",
            Way::Brings => "by what each brings",
            Way::OnTheSide => "cream on the side",
        })
    }
}

/// One thing made from a pail.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Product {
    /// What it is called: cream, skim.
    pub name: String,
    /// How much of it there was.
    pub weight: Weight,
    /// What all of it brings.
    pub brings: Money,
    /// What it alone cost after the pail was parted: churning, its own jars.
    pub costs: Money,
    /// Whether it is made on the side, too little and too seldom to count as what the cows are kept for.
    pub on_the_side: bool,
}

impl Product {
    /// What it brings less its own costs.
    #[must_use]
    pub fn worth(&self) -> Money {
        self.brings - self.costs
    }
}

/// Shares the cost of a pail among what was made from it, in the order given. The shares always add up to the whole, cent
/// by cent. By what each brings, a thing that brings no more than its own costs carries nothing; on the side, it adds its
/// loss to the milk's share, and its own share is below nothing by as much.
///
/// # Errors
/// A sentence when there is nothing to share by, or when what is made on the side would carry more than the pail cost.
pub fn share(joint: Money, products: &[Product], way: Way) -> Result<Vec<Money>, Fault> {
    if products.iter().any(|product| product.weight < Weight::ZERO || product.brings < Money::ZERO || product.costs < Money::ZERO) {
        return Err(Fault::says("What was made, what it brings and what it costs cannot be below nothing."));
    }
    match way {
        Way::Weight => {
            let weights: Vec<i64> = products.iter().map(|product| product.weight.in_milligrams()).collect();
            joint
                .split(&weights)
                .ok_or_else(|| Fault::says("Nothing was weighed, so the cost cannot be shared by weight. Weigh one first."))
        }
        Way::Brings => {
            let worths: Vec<i64> = products.iter().map(|product| product.worth().in_cents()).collect();
            joint.split(&worths).ok_or_else(|| {
                Fault::says("Nothing here brings more than its own costs, so the cost cannot be shared by that. Share it by weight.")
            })
        }
        Way::OnTheSide => on_the_side(joint, products),
    }
}

/// Takes off what is made on the side, and lets the rest fall on the milk: by weight, when that is more than one thing.
fn on_the_side(joint: Money, products: &[Product]) -> Result<Vec<Money>, Fault> {
    let off: Money = products.iter().filter(|product| product.on_the_side).map(Product::worth).sum();
    if off > joint {
        return Err(Fault::says(format!(
            "What is made on the side brings {off} over its own costs, more than the {joint} the pail cost: it is not on the side any more. \
             Share by what each brings."
        )));
    }
    let weights: Vec<i64> = products.iter().map(|product| if product.on_the_side { 0 } else { product.weight.in_milligrams() }).collect();
    let rest = (joint - off)
        .split(&weights)
        .ok_or_else(|| Fault::says("All of it is on the side, or the rest was not weighed. Name what carries the rest, and its weight."))?;
    Ok(products.iter().zip(rest).map(|(product, part)| if product.on_the_side { product.worth() } else { part }).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn product(weight: i64, brings: i64, costs: i64, on_the_side: bool) -> Product {
        Product {
            name: "Cream".into(),
            weight: Weight::milligrams(weight),
            brings: Money::cents(brings),
            costs: Money::cents(costs),
            on_the_side,
        }
    }

    /// Common practice: nothing is shared out evenly because there is nothing to share by.
    #[test]
    fn nothing_to_share_by_gets_a_sentence() {
        let says = |products: &[Product], way| share(Money::cents(1_000), products, way).unwrap_err().to_string();
        assert!(says(&[product(0, 5, 0, false)], Way::Weight).starts_with("Nothing was weighed"));
        assert!(says(&[], Way::Weight).starts_with("Nothing was weighed"));
        assert!(says(&[product(5, 10, 10, false), product(5, 0, 3, false)], Way::Brings).starts_with("Nothing here brings more"));
        assert!(says(&[product(5, 10, 0, true)], Way::OnTheSide).starts_with("All of it is on the side"));
        assert!(says(&[product(5, 1_001, 0, true), product(5, 0, 0, false)], Way::OnTheSide).contains("brings 10.01 over its own costs"));
        for way in Way::ALL {
            assert!(says(&[product(-1, 1, 0, false), product(2, 1, 0, false)], way).ends_with("cannot be below nothing."));
        }
    }

    /// Worked by hand: cream that brings 3.00 less than its own costs adds them to the milk, and carries nothing by what it
    /// brings.
    #[test]
    fn cream_at_a_loss_falls_on_the_milk() {
        let pail = [product(10, 200, 500, true), product(90, 9_000, 0, false)];
        let shares = |way| share(Money::cents(10_000), &pail, way).unwrap().iter().map(ToString::to_string).collect::<Vec<_>>();
        assert_eq!(shares(Way::OnTheSide), ["-3.00", "103.00"]);
        assert_eq!(shares(Way::Brings), ["0.00", "100.00"]);
        assert_eq!(shares(Way::Weight), ["10.00", "90.00"]);
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn shares_add_up(joint in 0i64..10_000_000, parts in proptest::collection::vec((0i64..5_000_000_000, 0i64..100_000, 0i64..100_000, any::<bool>()), 1..6)) {
            let products: Vec<Product> = parts.into_iter().map(|(weight, brings, costs, side)| product(weight, brings, costs, side)).collect();
            for way in Way::ALL {
                if let Ok(shares) = share(Money::cents(joint), &products, way) {
                    prop_assert_eq!(shares.len(), products.len());
                    prop_assert_eq!(shares.into_iter().sum::<Money>(), Money::cents(joint));
                }
            }
        }
    }
}
