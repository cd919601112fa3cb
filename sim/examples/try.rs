fn main() {
    let f = std::env::args().nth(1).unwrap();
    match seamwright_sim::cell::read::read_cell(f.as_ref()) {
        Err(p) => {
            for p in p {
                println!("{p}");
            }
        }
        Ok(c) => {
            for n in &c.notes {
                println!("note {n}");
            }
            let t = std::time::Instant::now();
            let p = seamwright_sim::plan::plan(&c, &Default::default());
            println!("plan {:?} {:?}", t.elapsed(), p.effort);
            for s in &p.seams {
                let m = &c.seams[s.seam.0];
                println!(
                    "{} {} {:?} taught {} bind {:?} also {} marg {:?}",
                    c.stations[m.station.0].name,
                    m.name,
                    s.verdict,
                    s.taught.len(),
                    s.binding,
                    s.also.len(),
                    s.margins.as_ref().map(|m| (m.axis, m.hose, m.clearance.clone(), m.wrist, m.speed))
                );
            }
            for v in &p.visits {
                println!("visit {} moves left {:?} blocked {:?}", v.moves.len(), v.left_out, v.blocked);
            }
        }
    }
}
