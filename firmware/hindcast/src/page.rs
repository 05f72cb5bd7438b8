//! The report as one page that needs nothing else: drawings, then tables.
//! Readable by day and by night.

use super::draw::{self, escaped};
use super::report::Report;
use super::truth::Truth;

const STYLE: &str = "\
:root{color-scheme:light dark;--ground:#fff;--ink:#16202a;--faint:#c9d1d8;\
--odds:#0b6e99;--fraction:#b45309;--knots:#6d4aa8;--aboard:#0f7a4a}\
@media(prefers-color-scheme:dark){:root{--ground:#10161c;--ink:#e4e9ee;--faint:#36424e;\
--odds:#5cc3ee;--fraction:#f0a24a;--knots:#b79cf0;--aboard:#58d39a}}\
body{background:var(--ground);color:var(--ink);font:16px/1.5 system-ui,sans-serif;\
max-width:70rem;margin:0 auto;padding:1.5rem}\
h1{font-size:1.5rem}h2{font-size:1.15rem;margin-top:2rem}\
svg{width:100%;max-width:46rem;height:auto;display:block}\
svg text{fill:var(--ink);font-size:13px}svg .small{font-size:12px}\
svg .middle{text-anchor:middle}svg .end{text-anchor:end}\
.grid{stroke:var(--faint);stroke-width:1}\
.line{fill:none;stroke-width:2.5}.bar{stroke-width:6;opacity:.3}\
.odds{stroke:var(--odds)}.fixed_fraction{stroke:var(--fraction);stroke-dasharray:7 4}\
.fixed_knots{stroke:var(--knots);stroke-dasharray:2 4}\
.aboard{stroke:var(--aboard)}\
.bar.fixed_fraction,.bar.fixed_knots{stroke-dasharray:none;opacity:.15}\
.honest{stroke:var(--faint);stroke-dasharray:5 5}.dot{fill:var(--odds)}\
pre{overflow-x:auto;font-size:13px;line-height:1.45;border:1px solid var(--faint);\
padding:.75rem;border-radius:4px}";

/// The page; `tables` are those that people read on the screen.
pub fn page(report: &Report, tables: &str) -> String {
    let mut body = String::from(
        "<h1>Hindcast</h1><p>How often the crew would have been warned in time, and what that \
         costs in readiness that led to nothing. Each limit is tried as if it were the present \
         rung's, with the crew on that rung throughout.</p>",
    );
    for pool in &report.pools {
        body += &format!(
            "<h2>Warned in time: {}</h2><p>{:.0} days, {} crossings, {} judged with their call \
             times. Bars: 5th to 95th percentile.</p>{}",
            escaped(&pool.name),
            pool.days,
            pool.crossings,
            pool.judged,
            draw::curves(pool)
        );
    }
    body += &format!(
        "<h2>Were the odds honest?</h2><p>On the dashed line what was said came true as often \
         as it was said. Beside each dot: the days on which it was said.</p>{}\
         {}<h2>All figures</h2><pre>{}</pre>",
        draw::reliability(&report.reliability),
        report.truth.as_ref().map_or(String::new(), truth),
        escaped(tables)
    );
    format!(
        "<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">\
         <meta name=\"viewport\" content=\"width=device-width,initial-scale=1\">\
         <title>Cringle: hindcast</title><style>{STYLE}</style></head><body>{body}</body></html>\n"
    )
}

/// The figure that was shown, against what came.
fn truth(it: &Truth) -> String {
    format!(
        "<h2>Was the figure true?</h2><p>Of {} minutes with a figure at or under an hour the \
         limit was passed sooner in {}. Dots: the median shown 40, 20 and 10 min before a \
         crossing; on the dashed line it was what was left.</p>{}",
        it.shown,
        it.early_share()
            .map_or("none".into(), |share| format!("{share:.3}")),
        draw::truth(it)
    )
}
