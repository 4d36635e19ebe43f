//! Three services, one or two of them dead at any time, killed at random moments.

use std::collections::BTreeSet;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use crate::check;
use crate::clinic::{Clinic, Service, minute_in, until};

/// How many services share the clinic.
const HOSTS: usize = 3;
/// At least so many kills, where the environment does not say another number.
const KILLS: usize = 20;
/// Clients whose sitting begins in one minute.
const CROWD: usize = 12;
/// About how many kills fall into one minute.
const KILLS_A_MINUTE: usize = 40;
/// How long the last of the work may take, once nobody is killed any more.
const PATIENCE: Duration = Duration::from_secs(60);

#[test]
fn services_killed_at_any_moment_lose_nothing_and_nothing_is_done_by_two() {
    let kills_min = std::env::var("FADEWATCH_TEST_KILLS").map_or(KILLS, |n| n.parse().unwrap());
    let clinic = Clinic::new(HOSTS);
    let crowds = 1 + kills_min / KILLS_A_MINUTE;
    let first = minute_in(10);
    let mut clients = Vec::new();
    for crowd in 0..crowds {
        for place in 0..CROWD {
            let client = format!("C{crowd}-{place}");
            let sitting = first + chrono::TimeDelta::minutes(crowd as i64);
            clinic.enroll(place % HOSTS, &client, sitting);
            clients.push(client);
        }
    }
    let (is_over, kills, answered) =
        (AtomicBool::new(false), AtomicUsize::new(0), AtomicUsize::new(0));
    std::thread::scope(|scope| {
        scope.spawn(|| kill_until(&clinic, &is_over, &kills));
        scope.spawn(|| answer_until(&clinic, &is_over, &answered));
        let limit = Instant::now() + Duration::from_secs(120 + 60 * crowds as u64 + 90);
        while answered.load(Ordering::Relaxed) < clients.len()
            || kills.load(Ordering::Relaxed) < kills_min
        {
            if Instant::now() > limit {
                is_over.store(true, Ordering::Relaxed);
                panic!(
                    "{} of {} answered after {} kills:\n{}",
                    answered.load(Ordering::Relaxed),
                    clients.len(),
                    kills.load(Ordering::Relaxed),
                    clinic.logs()
                );
            }
            std::thread::sleep(Duration::from_millis(100));
        }
        is_over.store(true, Ordering::Relaxed);
    });
    let ran_before = service_runs(&clinic);
    let service = clinic.serve(0);
    // A signal before it runs would end it at once, which says nothing about its ending in order.
    until("the last service runs", PATIENCE, || service_runs(&clinic) > ran_before);
    until("the rest of the work is done", PATIENCE, || check::is_calm(&clinic));
    assert!(service.stop(), "{}", clinic.logs());
    let found = check::all(&clinic, &clients, answered.load(Ordering::Relaxed));
    let kills = kills.load(Ordering::Relaxed);
    let takeovers = clinic.logs().matches("this one takes over").count();
    println!("{kills} kills, {takeovers} takeovers by one that stood by, {found}");
    assert!(takeovers > 0, "nobody ever took over");
}

fn service_runs(clinic: &Clinic) -> usize {
    clinic.logs().matches("the service runs").count()
}

/// Kills one after the other and starts them again, at most two dead at a time.
fn kill_until(clinic: &Clinic, is_over: &AtomicBool, kills: &AtomicUsize) {
    let mut services: Vec<Option<Service>> =
        (0..HOSTS).map(|host| Some(clinic.serve(host))).collect();
    let mut number = 0x2545_F491_4F6C_DD1D_u64;
    while !is_over.load(Ordering::Relaxed) {
        // Xorshift (Marsaglia 2003): moments that fall into starting, waiting and working alike.
        number ^= number << 13;
        number ^= number >> 7;
        number ^= number << 17;
        std::thread::sleep(Duration::from_millis(30 + number % 1700));
        let victim = (number >> 20) as usize % HOSTS;
        if let Some(service) = services[victim].take() {
            service.kill();
            kills.fetch_add(1, Ordering::Relaxed);
        }
        let dead: Vec<usize> = (0..HOSTS).filter(|host| services[*host].is_none()).collect();
        // One comes back at once as often as not; the last two never lie dead with the third.
        if dead.len() == HOSTS - 1 || (number >> 40).is_multiple_of(2) {
            let back = dead[(number >> 50) as usize % dead.len()];
            services[back] = Some(clinic.serve(back));
        }
        for (host, service) in services.iter_mut().enumerate() {
            if let Some(running) = service
                && running.ended().is_some()
            {
                panic!("the service of host {host} ended by itself:\n{}", running.log());
            }
        }
    }
}

/// Answers each request for a look once, whichever of its copies comes first.
fn answer_until(clinic: &Clinic, is_over: &AtomicBool, answered: &AtomicUsize) {
    let mut seen = BTreeSet::new();
    while !is_over.load(Ordering::Relaxed) {
        for mail in clinic.mails() {
            if mail.subject.starts_with("Please look at the skin") && seen.insert(mail.id.clone()) {
                let words = match seen.len() % 4 {
                    0 => "Dark patch on the tailbone, still there after 40 minutes",
                    _ => "No marks, skin looks as always",
                };
                clinic.answer(&mail, words);
                answered.fetch_add(1, Ordering::Relaxed);
            }
        }
        std::thread::sleep(Duration::from_millis(50));
    }
}
