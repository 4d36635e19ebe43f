//! Which wordings there are, and what fills each: one method a wording, so that the compiler
//! refuses a slot left empty and a wording that does not exist.
//!
//! Never here: the words themselves (they are in the wording files).
//! Promises: a wording file must have exactly these keys, and each text exactly these slots.

use std::fmt::Display;

use super::wording::Wording;

macro_rules! wordings {
    ($($name:ident($($slot:ident),*) = $key:literal;)*) => {
        /// Every key with its slots.
        pub(super) const CATALOGUE: &[(&str, &[&str])] = &[$(($key, &[$(stringify!($slot)),*])),*];

        impl Wording {
            $(
                pub(super) fn $name(&self, $($slot: &dyn Display),*) -> String {
                    self.filled($key, &[$((stringify!($slot), $slot)),*])
                }
            )*
        }
    };
}

/// Keys that come in a form for one and a form for other counts.
pub(super) const COUNTED: &[&str] = &[
    "count.sittings",
    "count.looks",
    "count.follow_ups",
    "count.mails",
    "count.overdue",
    "count.stopped",
    "count.suspended",
    "count.days",
];

wordings! {
    // Time. `{place}` brings its own space before it, or is nothing at all.
    time_clock(hour, minute) = "time.clock";
    time_tomorrow(clock) = "time.tomorrow";
    time_yesterday(clock) = "time.yesterday";
    time_other_day(clock, weekday, day, month) = "time.other_day";
    time_row(clock, day, month) = "time.row";
    duration_minutes(minutes) = "duration.minutes";
    duration_hours(hours) = "duration.hours";
    duration_hours_minutes(hours, minutes) = "duration.hours_minutes";
    duration_days_hours(days, hours) = "duration.days_hours";

    // The frame that all mails share.
    frame_subject(what, client_ref) = "frame.subject";
    frame_reply_subject(client_ref) = "frame.reply_subject";
    frame_clinic_subject(what) = "frame.clinic_subject";
    frame_clinic_reply_subject() = "frame.clinic_reply_subject";
    frame_tap() = "frame.tap";
    frame_write() = "frame.write";
    frame_own_words(example) = "frame.own_words";
    frame_picture(described) = "frame.picture";
    frame_step(step, duration) = "frame.step";
    frame_unnamed() = "frame.unnamed";
    frame_quote(words) = "frame.quote";

    // Mail about several clients.
    round_subject(looks) = "round.subject";
    round_ask(looks, clients) = "round.ask";
    round_unclear(clients) = "round.unclear";
    round_noted(clients) = "round.noted";
    round_together() = "round.together";
    round_write() = "round.write";
    round_example(one, other) = "round.example";
    round_label() = "round.label";
    round_clients(clients, count) = "round.clients";

    caution_urgent() = "caution.urgent";
    caution_service() = "caution.service";
    caution_hours(clinic, phone, out_of_hours) = "caution.hours";
    caution_clinician() = "caution.clinician";

    example_start() = "example.start";
    example_look() = "example.look";
    example_recheck() = "example.recheck";
    example_stopped() = "example.stopped";
    example_alert() = "example.alert";
    example_told() = "example.told";

    // Answers. The label is on the button, the answer is what the reply then says.
    label_clear() = "label.clear";
    label_marked() = "label.marked";
    label_alarming() = "label.alarming";
    label_not_looked() = "label.not_looked";
    label_no_sitting() = "label.no_sitting";
    label_started() = "label.started";
    label_faded() = "label.faded";
    label_persisting() = "label.persisting";
    label_seen() = "label.seen";
    label_resume(step, duration) = "label.resume";
    label_keep_stopped() = "label.keep_stopped";
    label_stop() = "label.stop";
    label_close() = "label.close";
    label_wrong() = "label.wrong";

    tap_clear() = "taps.clear";
    tap_marked() = "taps.marked";
    tap_alarming() = "taps.alarming";
    tap_not_looked() = "taps.not_looked";
    tap_no_sitting() = "taps.no_sitting";
    tap_started() = "taps.started";
    tap_faded() = "taps.faded";
    tap_persisting() = "taps.persisting";
    tap_seen() = "taps.seen";
    tap_resume(step) = "taps.resume";
    tap_keep_stopped() = "taps.keep_stopped";
    tap_close() = "taps.close";
    tap_wrong() = "taps.wrong";

    meaning_clear() = "meaning.clear";
    meaning_marked() = "meaning.marked";
    meaning_alarming() = "meaning.alarming";
    meaning_not_looked() = "meaning.not_looked";
    meaning_no_sitting() = "meaning.no_sitting";
    meaning_faded() = "meaning.faded";
    meaning_persisting() = "meaning.persisting";
    meaning_stop() = "meaning.stop";

    // A sitting begins.
    sitting_subject(duration, clock) = "sitting.subject";
    sitting_lead(client, duration, when) = "sitting.lead";
    sitting_before() = "sitting.before";
    sitting_looks(number, step, whens) = "sitting.looks";

    // Requests to look.
    ask_subject(clock) = "ask.subject";
    ask_subject_recheck(clock) = "ask.subject_recheck";
    ask_subject_routine(clock) = "ask.subject_routine";
    ask_subject_again(clock) = "ask.subject_again";
    ask_subject_unclear() = "ask.subject_unclear";
    ask_end(client, duration) = "ask.end";
    ask_during(client, so_far, duration) = "ask.during";
    ask_recheck(client, place, when) = "ask.recheck";
    ask_routine(client, when) = "ask.routine";
    ask_how() = "ask.how";
    ask_how_during(when) = "ask.how_during";
    ask_how_recheck() = "ask.how_recheck";
    ask_again(when) = "ask.again";
    ask_next(names, when) = "ask.next";
    ask_next_unreachable(names) = "ask.next_unreachable";
    ask_unclear() = "ask.unclear";
    ask_you_wrote() = "ask.you_wrote";

    // Stop, to the contacts.
    stop_subject() = "stop.subject";
    stop_lead(client) = "stop.lead";
    stop_persisting(place) = "stop.persisting";
    stop_alarming(place) = "stop.alarming";
    stop_unreported(place) = "stop.unreported";
    stop_clinician() = "stop.clinician";
    stop_do() = "stop.do";
    stop_told(clinic) = "stop.told";
    stop_worse() = "stop.worse";

    // Alerts.
    alert_persisting() = "alert.persisting";
    alert_alarming() = "alert.alarming";
    alert_unreported() = "alert.unreported";
    alert_stopped() = "alert.stopped";
    alert_alarming_again() = "alert.alarming_again";
    alert_nobody() = "alert.nobody";
    alert_repeated(what) = "alert.repeated";
    alert_passed_on(what) = "alert.passed_on";
    alert_brought_back(what) = "alert.brought_back";
    alert_lead_persisting(client, client_ref, place) = "alert.lead_persisting";
    alert_lead_alarming(client, client_ref, place) = "alert.lead_alarming";
    alert_lead_unreported(client, client_ref, place) = "alert.lead_unreported";
    alert_lead_stopped(client, client_ref) = "alert.lead_stopped";
    alert_lead_alarming_again(client, client_ref) = "alert.lead_alarming_again";
    alert_lead_nobody(client, client_ref) = "alert.lead_nobody";
    alert_since(when, step) = "alert.since";
    alert_raised(every) = "alert.raised";
    alert_still(when) = "alert.still";
    alert_yours(when, names) = "alert.yours";
    alert_undecided(when) = "alert.undecided";
    alert_taken_up(raised, name, when) = "alert.taken_up";
    alert_said(who, when) = "alert.said";
    alert_written(when) = "alert.written";
    alert_contacts_told() = "alert.contacts_told";
    alert_nobody_do() = "alert.nobody_do";
    alert_sittings() = "alert.sittings";
    alert_no_sittings() = "alert.no_sittings";
    alert_fitting() = "alert.fitting";
    alert_guide() = "alert.guide";
    alert_guide_note() = "alert.guide_note";
    alert_first() = "alert.first";
    alert_decide() = "alert.decide";

    column_sitting() = "column.sitting";
    column_duration() = "column.duration";
    column_finding() = "column.finding";
    column_fade() = "column.fade";
    column_not_gone() = "column.not_gone";
    column_none() = "column.none";

    finding_clear() = "finding.clear";
    finding_faded() = "finding.faded";
    finding_marked() = "finding.marked";
    finding_persisting() = "finding.persisting";
    finding_alarming() = "finding.alarming";
    finding_missed() = "finding.missed";
    finding_open() = "finding.open";
    finding_cancelled() = "finding.cancelled";
    finding_withdrawn() = "finding.withdrawn";
    finding_at(finding, sites) = "finding.at";

    // Told to the clinician on cover.
    told_lead(client, client_ref, what) = "told.lead";
    told_subject_missed() = "told.subject_missed";
    told_subject_unclear() = "told.subject_unclear";
    told_subject_repeat() = "told.subject_repeat";
    told_subject_rising() = "told.subject_rising";
    told_subject_projection() = "told.subject_projection";
    told_subject_correction() = "told.subject_correction";
    told_subject_late() = "told.subject_late";
    told_subject_suspended() = "told.subject_suspended";
    told_missed(look, limit) = "told.missed";
    told_unclear(look) = "told.unclear";
    told_repeat(sites, count, of_last) = "told.repeat";
    told_rising(sittings) = "told.rising";
    told_projection(next, expect, limit) = "told.projection";
    told_projection_how(step) = "told.projection_how";
    told_correction(look) = "told.correction";
    told_late(look) = "told.late";
    told_late_stopped(look) = "told.late_stopped";
    told_suspended(sittings) = "told.suspended";
    told_no_answer() = "told.no_answer";
    told_rising_how(s, p) = "told.rising_how";
    told_stands(finding) = "told.stands";

    look_first(number, when) = "look.first";
    look_recheck(when) = "look.recheck";
    look_routine(when) = "look.routine";
    look_announcement(number) = "look.announcement";
    look_unnamed() = "look.unnamed";

    // Confirmations to the one who replied.
    noted_subject() = "noted.subject";
    noted_clear(when) = "noted.clear";
    noted_faded(place, when) = "noted.faded";
    noted_faded_after(place, minutes) = "noted.faded_after";
    noted_marked(place, when, recheck) = "noted.marked";
    noted_marked_now(place, when) = "noted.marked_now";
    noted_marked_only(place, when) = "noted.marked_only";
    noted_persisting(place, when) = "noted.persisting";
    noted_alarming(place, when) = "noted.alarming";
    noted_stop() = "noted.stop";
    noted_not_looked() = "noted.not_looked";
    noted_not_looked_until(when) = "noted.not_looked_until";
    noted_no_sitting(number) = "noted.no_sitting";
    noted_no_sitting_plain() = "noted.no_sitting_plain";
    noted_started(when, look) = "noted.started";
    noted_started_plain(when) = "noted.started_plain";
    noted_wrong() = "noted.wrong";
    noted_told() = "noted.told";
    noted_next(when) = "noted.next";

    // How things stand, to the contacts.
    resumed_subject() = "resumed.subject";
    resumed_lead(client, step) = "resumed.lead";
    resumed_next(when) = "resumed.next";
    closed_subject() = "closed.subject";
    closed_lead(client) = "closed.lead";
    closed_after(clinic) = "closed.after";
    suspended_subject() = "suspended.subject";
    suspended_lead(client) = "suspended.lead";
    suspended_why(sittings) = "suspended.why";
    suspended_end() = "suspended.end";
    unsuspended_subject() = "unsuspended.subject";
    unsuspended_lead(client) = "unsuspended.lead";
    paused_subject() = "paused.subject";
    paused_lead(client) = "paused.lead";
    paused_report() = "paused.report";
    unpaused_subject() = "unpaused.subject";
    unpaused_lead(client) = "unpaused.lead";
    routine_subject() = "routine.subject";
    routine_lead(client) = "routine.lead";
    routine_looks(clocks) = "routine.looks";

    // To clinicians about their own answers, and reviews.
    decided_subject() = "decided.subject";
    decided_seen(client, client_ref) = "decided.seen";
    decided_resumed(client, client_ref, step) = "decided.resumed";
    decided_kept(client, client_ref) = "decided.kept";
    decided_closed(client, client_ref) = "decided.closed";
    decided_waiting() = "decided.waiting";
    review_subject(days) = "review.subject";
    review_lead(client, client_ref, days) = "review.lead";
    aside_subject() = "aside.subject";
    aside_lead(client, client_ref, who) = "aside.lead";
    aside_not_asked() = "aside.not_asked";
    aside_no_open_alert() = "aside.no_open_alert";
    aside_nothing_stopped() = "aside.nothing_stopped";
    aside_no_such_step(steps) = "aside.no_such_step";
    aside_does_not_fit() = "aside.does_not_fit";
    aside_closed() = "aside.closed";
    aside_overtaken() = "aside.overtaken";
    aside_still() = "aside.still";
    aside_said() = "aside.said";

    // The clinic as a whole.
    unread_subject() = "unread.subject";
    unread_lead(when) = "unread.lead";
    unread_unknown_sender() = "unread.unknown_sender";
    unread_unknown_token() = "unread.unknown_token";
    unread_wrong_sender() = "unread.wrong_sender";
    unread_unproven() = "unread.unproven";
    unread_unreadable() = "unread.unreadable";
    unread_from(sender) = "unread.from";
    unread_do() = "unread.do";
    unreachable_subject() = "unreachable.subject";
    unreachable_lead(client, client_ref, who) = "unreachable.lead";
    unreachable_next(names) = "unreachable.next";
    unreachable_none() = "unreachable.none";
    away_subject(duration) = "away.subject";
    away_lead(duration, since, until) = "away.lead";
    away_due() = "away.due";
    away_nothing() = "away.nothing";
    away_client(client_ref, due) = "away.client";
    clock_subject(duration) = "clock.subject";
    clock_lead(before, now) = "clock.lead";
    clock_goes_on() = "clock.goes_on";
    clock_at_start() = "clock.at_start";
    clock_do() = "clock.do";
    plan_subject() = "plan.subject";
    plan_lead(file) = "plan.lead";
    plan_keeps() = "plan.keeps";
    alive_subject() = "alive.subject";
    alive_lead(follow_ups) = "alive.lead";
    alive_standing(stopped, suspended) = "alive.standing";
    alive_standing_none() = "alive.standing_none";
    alive_stopped_client(client_ref, when) = "alive.stopped_client";
    alive_suspended_client(client_ref) = "alive.suspended_client";
    alive_calendar() = "alive.calendar";
    alive_calendar_too_long() = "alive.calendar_too_long";
    alive_overdue_none() = "alive.overdue_none";
    alive_overdue(overdue) = "alive.overdue";
    alive_missing() = "alive.missing";

    // A calendar file.
    agenda_name_all() = "agenda.name_all";
    agenda_name(client_ref) = "agenda.name";
    agenda_sitting(client_ref, duration) = "agenda.sitting";
    agenda_look(client_ref) = "agenda.look";
    agenda_recheck(client_ref) = "agenda.recheck";
    agenda_review(client_ref, day) = "agenda.review";
    agenda_note() = "agenda.note";

    // A trial of the mail account.
    trial_subject() = "trial.subject";
    trial_lead(clinic) = "trial.lead";
    trial_ask() = "trial.ask";
    trial_own() = "trial.own";

    // Signing in on the board.
    sign_in_subject() = "sign_in.subject";
    sign_in_lead(clinic) = "sign_in.lead";
    sign_in_how(duration) = "sign_in.how";
    sign_in_not_you() = "sign_in.not_you";

    // Pictures.
    picture_sat() = "picture.sat";
    picture_gone() = "picture.gone";
    picture_limit() = "picture.limit";
    picture_slow() = "picture.slow";
    picture_step(step) = "picture.step";
    picture_credit() = "picture.credit";
    picture_no_credit() = "picture.no_credit";
    picture_cut_short() = "picture.cut_short";
    picture_cancelled() = "picture.cancelled";
    picture_open() = "picture.open";
    picture_routine_look() = "picture.routine_look";
    picture_clear() = "picture.clear";
    picture_stated() = "picture.stated";
    picture_within() = "picture.within";
    picture_not_known() = "picture.not_known";
    picture_lasted() = "picture.lasted";
    picture_alarming() = "picture.alarming";
    picture_missed() = "picture.missed";
    picture_expected() = "picture.expected";
    picture_stopped() = "picture.stopped";
    picture_suspended() = "picture.suspended";
    picture_held() = "picture.held";
    picture_paused() = "picture.paused";
    picture_goes_on() = "picture.goes_on";
    picture_adopted() = "picture.adopted";
    picture_routine() = "picture.routine";
    picture_closed() = "picture.closed";
    picture_course(sittings, first, last, from, to) = "picture.course";
    picture_shown(shown, sittings) = "picture.shown";
    picture_course_empty() = "picture.course_empty";
    picture_tally(what, count) = "picture.tally";
    picture_tallies(tallies, limit) = "picture.tallies";
    picture_sign(what, when) = "picture.sign";
    picture_expect(duration, expected) = "picture.expect";
    picture_left() = "picture.left";
    picture_right() = "picture.right";
    picture_behind() = "picture.behind";
    picture_seat() = "picture.seat";
    picture_times(what, times) = "picture.times";
    picture_mark_not_known() = "picture.mark_not_known";
    picture_unplaced(count) = "picture.unplaced";
    picture_places() = "picture.places";
    picture_marked(places, sittings) = "picture.marked";

    // The follow-up report.
    letter_title() = "letter.title";
    letter_client() = "letter.client";
    letter_clinic() = "letter.clinic";
    letter_period() = "letter.period";
    letter_period_line(from, until, zone) = "letter.period_line";
    letter_plan() = "letter.plan";
    letter_plan_line(title, version, risk) = "letter.plan_line";
    letter_limits() = "letter.limits";
    letter_limits_line(limit, slow) = "letter.limits_line";
    letter_standing() = "letter.standing";
    letter_made() = "letter.made";
    letter_stands_open(step) = "letter.stands_open";
    letter_stands_routine(date) = "letter.stands_routine";
    letter_stands_suspended() = "letter.stands_suspended";
    letter_stands_stopped(when, step) = "letter.stands_stopped";
    letter_stands_paused(when) = "letter.stands_paused";
    letter_stands_closed() = "letter.stands_closed";
    letter_no_fitting() = "letter.no_fitting";
    letter_course() = "letter.course";
    letter_findings() = "letter.findings";
    letter_places() = "letter.places";
    letter_no_marks() = "letter.no_marks";
    letter_decisions() = "letter.decisions";
    letter_clear(sittings) = "letter.clear";
    letter_earlier(count) = "letter.earlier";
    letter_when() = "letter.when";
    letter_what() = "letter.what";
    letter_who() = "letter.who";
    letter_rule(rule) = "letter.rule";
    letter_some_clinician() = "letter.some_clinician";
    letter_advanced(step) = "letter.advanced";
    letter_held(step, expected) = "letter.held";
    letter_unsuspended() = "letter.unsuspended";
    letter_stopped(step, why) = "letter.stopped";
    letter_persisting(place) = "letter.persisting";
    letter_alarming(place) = "letter.alarming";
    letter_unreported(place) = "letter.unreported";
    letter_by_word() = "letter.by_word";
    letter_seen() = "letter.seen";
    letter_resumed(step) = "letter.resumed";
    letter_kept() = "letter.kept";
    letter_adopted(version) = "letter.adopted";
    letter_paused(why) = "letter.paused";
    letter_hospital() = "letter.hospital";
    letter_holiday() = "letter.holiday";
    letter_other_reason() = "letter.other_reason";
    letter_unpaused() = "letter.unpaused";
    letter_fitted(date, version) = "letter.fitted";
    letter_fitted_in_spite_of(date, version) = "letter.fitted_in_spite_of";
    letter_source(entries) = "letter.source";
    letter_signature() = "letter.signature";

    // The service in trouble.
    trouble_subject() = "trouble.subject";
    trouble_lead() = "trouble.lead";
    trouble_since(when, what) = "trouble.since";
    trouble_out(why) = "trouble.out";
    trouble_in(why) = "trouble.in";
    trouble_why_answer() = "trouble.why_answer";
    trouble_why_certificate() = "trouble.why_certificate";
    trouble_why_login() = "trouble.why_login";
    trouble_why_folder() = "trouble.why_folder";
    trouble_why_other() = "trouble.why_other";
    trouble_full() = "trouble.full";
    trouble_data() = "trouble.data";
    trouble_damaged() = "trouble.damaged";
    trouble_clock_ahead(duration) = "trouble.clock_ahead";
    trouble_clock_back(duration) = "trouble.clock_back";
    trouble_hanging() = "trouble.hanging";
    trouble_daily() = "trouble.daily";
    trouble_backup() = "trouble.backup";
    trouble_flood() = "trouble.flood";
    trouble_strangers() = "trouble.strangers";
    trouble_board() = "trouble.board";
    trouble_backlog(mails, duration) = "trouble.backlog";
    trouble_too_many() = "trouble.too_many";
    trouble_do() = "trouble.do";
    trouble_over_subject() = "trouble.over_subject";
    trouble_over() = "trouble.over";
}
