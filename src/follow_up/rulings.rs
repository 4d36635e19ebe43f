//! Rulings: what the core does where the text of the rules leaves a choice open.
//!
//! The rules R1–R29 are written for people, and people left some cases open. Each ruling below
//! names the rule, says what was chosen and why that is the safer side, and names the test that
//! shows it (under `tests/rules`, or `tests/acts` where the service has a part in it). A ruling changes only together with its test. A second
//! implementation (`tests/rules/reference.py`) follows the same rulings; on every test run
//! `the_core_agrees_with_an_independent_reading_of_the_rules` compares the two.
//!
//! Never here: code. Promises: every test that is named exists.
//!
//! ## Sittings and their starts
//! - **R2: early start or taking up.** The text puts taking up a cancelled sitting first, its fine
//!   print the early start. The fine print decides: a new sitting has looks of its own for certain.
//!   `an_early_start_comes_before_taking_up_a_cancelled_sitting`
//! - **R2: a `started` that changes nothing.** Said to an announcement whose sitting has an
//!   answered or missed look it is set aside (`does-not-fit`) and told; said to a look it is
//!   `answered` and told; to a sitting that ended or was cancelled on another day it is told; with
//!   no request it is set aside (`not-asked`) and told. Somebody is sitting unwatched, so the
//!   clinic hears of it every time. `a_start_that_changes_nothing_is_set_aside_and_told`
//!   `a_cancelled_sitting_is_taken_up_again_on_the_same_local_day`
//!   `started_to_a_sitting_that_a_mark_ended_is_told`
//! - **R2: a cancelled sitting in which a mark was reported** all the same is a sitting that a mark
//!   ended (R10): `started` does not take it up again and is told. A mark at a routine look is none
//!   of the sitting's, so taking up goes on, as the text has it.
//!   `a_cancelled_sitting_in_which_a_mark_was_reported_is_not_taken_up_again`
//! - **R2: a start stated before the last look.** An unasked look counts as asked when it came. Both
//!   windows, of starts and of looks, include their far end. The start is judged after the window: one stated longer ago than
//!   `tell_clinic_after` counts as the arrival and may begin a sitting, so that its looks are asked.
//!   `a_start_stated_before_the_last_look_does_not_begin_a_sitting_early`
//!   `a_start_that_is_not_stated_is_the_arrival_of_the_reply`
//! - **R2: the next planned sitting** is looked for in the times of the present step; a sitting
//!   begun early uses its planned time up, so that nobody sits twice for one plan.
//!   `started_less_than_tell_clinic_after_before_the_next_sitting_begins_it_early`
//! - **R2: calm words to an announcement** are set aside as `does-not-fit`, open or closed: nobody
//!   was asked to look, so they are no look. `calm_words_to_an_announcement_are_set_aside`
//! - **R2: an announcement stays closed** once a look of its sitting was asked, also after a moved
//!   start or a taking up; a mark said then is an answer to the look asked last and is told.
//!   `an_announcement_stays_closed_once_a_look_was_asked`
//! - **R2: a mark said to the announcement** includes `faded`. Where no look of the sitting was ever
//!   asked (it was cancelled, say) it is an unasked first look of it all the same, and the sitting
//!   is settled again: no mark is dropped because the sitting was thought not to take place.
//!   Once the announcement is closed, an unasked look and its recheck count as asked: a mark that
//!   lasts is not looked at anew because it is said to another mail.
//!   `a_mark_said_to_the_announcement_of_a_cancelled_sitting_is_its_unasked_look`
//!   `after_an_unasked_mark_a_mark_said_to_the_announcement_answers_its_recheck`
//! - **R3: a time of day that a plan lists twice** is one look: nobody is asked twice at one instant.
//!   `a_time_of_day_that_a_plan_lists_twice_is_one_look`
//! - **R4: a routine look that waits for the morning** is not open, so that it drops no sitting.
//!   `a_routine_look_that_a_clock_change_puts_into_quiet_hours_waits_for_their_end`
//!
//! ## Fade times and credit
//! - **R6: `faded` without minutes said to a first or routine look** counts as `fade_limit`: nobody
//!   knows when the mark was first seen, and 0 would read silence as all clear.
//!   `faded_without_minutes_said_to_a_look_counts_as_the_fade_limit`
//! - **R6: a slow fade at a routine look** prints nothing, but the run is broken; so it is again by
//!   a correction. `a_slow_fade_at_a_routine_look_breaks_the_run_and_prints_nothing`
//! - **R6, R18: settled anew without credit.** The run that stands is broken, whichever run the
//!   sitting belonged to: a slow fade is one, though it became known late.
//!   `a_sitting_settled_anew_without_credit_breaks_the_present_run`
//! - **R18: credit of a run since broken** is not subtracted, and not added again either when the
//!   sitting is settled anew with credit; `credit` then prints the present run. A sitting belongs to
//!   the run that stood when it first earned credit, or to the one that began when it broke the run
//!   that it belonged to; once another sitting has broken that run, it counts in none after it.
//!   `a_credit_of_a_run_since_broken_is_neither_subtracted_nor_added_again`
//!   `a_sitting_before_a_broken_run_counts_in_no_run_after_it_however_often_it_is_settled`
//! - **R15, R18: late answers.** A late mark settles its sitting anew (`no-credit` is printed again,
//!   its point may come, the run breaks again); a late `clear` settles nothing, for calm words that
//!   come late earn nothing. `a_late_mark_is_rechecked`
//!   `a_look_is_missed_at_tell_clinic_after_and_a_later_answer_never_earns_credit`
//! - **R18: an answer to a look answered before the last resume** is told and a mark is looked at
//!   again, but no credit is taken back and no run broken. The mark ends its sitting all the same.
//!   `a_mark_said_after_a_resume_ends_a_sitting_that_was_settled_before_it`
//!   `an_answer_to_a_look_answered_before_the_last_resume_settles_nothing_anew`
//! - **R19, R20: points** stand in the order of the sittings' numbers; 'cut short' is a sitting whose
//!   own `sit` was not over, or a look of which a mark withdrew; a trend is told each time a point
//!   comes while p is below 0.05. `only_sittings_with_a_finding_that_tells_something_give_a_point`
//!   `a_rising_trend_on_a_step_is_told_when_it_is_beyond_chance`
//!
//! ## Marks and rechecks
//! - **R10: a sitting in progress** is one whose `sit` is not over at the reply. One that is over
//!   keeps its end look when a mark is reported at a routine look: that look is asked of skin that
//!   sat. `a_mark_at_a_routine_look_leaves_a_sitting_that_is_over_its_end_look`
//! - **R10: said to a marked look.** Once its recheck was asked, or answered early, `answered` (and
//!   `asked` after `unclear`) names the recheck.
//!   `what_is_said_to_a_marked_look_is_said_to_its_recheck`
//! - **R12: after the reporter** the recheck goes to those who follow in calling order; a reporter
//!   who is last keeps it: whoever saw the mark knows where to look.
//!   `a_recheck_goes_to_the_one_who_reported_and_moves_on_from_there`
//! - **R13: the last sittings** are the newest ones begun and not cancelled, stopped ones included,
//!   also for a late mark in an older one; a site first named at a recheck counts as reported;
//!   corrections toward better and the same again add no site.
//!   `sites_count_over_the_last_sittings_begun_stopped_ones_included`
//!   `a_site_named_at_a_recheck_counts_as_reported`
//! - **R21: sites of a stop** are those of the reply, else of the last mark seen at that look that
//!   named any; for a recheck, of the look it belongs to.
//!   `a_stop_whose_reply_names_no_site_carries_those_of_the_mark`
//!
//! ## Silence, doubt and corrections
//! - **R16: the same finding again lifts a suspension** though nothing else changes: somebody looks
//!   again, which is what the suspension waits for. `no-sitting` is no finding and lifts nothing.
//!   `the_same_finding_again_lifts_a_suspension`
//! - **R16: late answer or correction** is judged before the suspension is lifted; `unsuspended` is
//!   printed before either. `a_late_answer_lifts_the_suspension_before_it_is_told`
//! - **R16: the row** ends with a sitting that a mark ended and that missed no look; stopped sittings
//!   do not count in it, and an already suspended client is not suspended again.
//!   `a_sitting_ended_by_a_mark_ends_the_row_and_a_cancelled_one_does_not`
//!   `a_finding_that_settles_the_sitting_which_suspends_does_not_lift_that_suspension`
//! - **R16: `resume` while suspended** starts the run again at zero; with nothing stopped,
//!   `nothing-stopped` is said before `no-such-step`; a step is taken before minutes.
//!   `resume_lifts_a_suspension_on_the_step_named_or_the_present_one`
//!   `resume_with_nothing_stopped_and_seen_with_no_alert_are_set_aside`
//! - **R17: `unclear` to a closed look** is told and not asked again: there is nothing left to
//!   answer. It counts among that look's unclear replies.
//!   `unclear_to_a_closed_look_is_told_and_not_asked_again`
//! - **R17: `no-sitting` after a finding** is a correction toward better even where another look was
//!   missed; without a finding, after a miss or an ending, it is a late report.
//!   `no_sitting_after_a_finding_is_a_correction` `no_sitting_after_a_miss_is_told_as_a_late_report`
//! - **R18: the order at a recheck.** `clear` with or without minutes ranks below every `faded`; what
//!   R11 stops on ranks with `persisting`, so that `marked` with 45 minutes after `marked` is worse
//!   and not the same. `minutes_too_long_make_the_same_mark_a_lasting_one`
//! - **R18: an earlier local day** is judged by when the look was last answered, missed or withdrawn.
//!   What comes later is an unasked first look of the sitting that is announced, else an unasked
//!   routine look; never an answer to the newest look, which could turn it into a correction.
//!   `a_mark_said_on_a_later_day_is_an_unasked_look`
//!   `a_mark_said_on_a_later_day_to_an_announced_sitting_is_an_unasked_first_look_of_it`
//!
//! ## Who is heard
//! - **R29: the newest look** is the one whose first request is latest, whatever its kind, open or
//!   not; a reminder does not make a look newer. An unasked look counts as asked when it came.
//!   `the_look_asked_last_is_the_one_first_asked_last`
//!   `a_mark_from_somebody_not_asked_answers_the_look_asked_last`
//! - **R29: after an unasked look**, as long as it is the writer's newest request, what they say
//!   without naming another is said to it, even while another request is open: they are speaking of
//!   the mark they saw. `what_is_said_next_after_an_unasked_look_is_said_to_it`
//! - **R29: a reply that names a kind** answers the newest open request of that kind to its writer,
//!   else the newest; with none of the kind, calm words are set aside and marks taken.
//!   `a_reply_to_a_kind_that_was_never_asked_is_set_aside`
//! - **R28: automatic replies** leave no trace at all in what is printed, also while stopped or
//!   closed. `an_automatic_reply_is_never_an_answer`
//!
//! ## Stops and alerts
//! - **R21: stopped sittings**, the one replied to and every unsettled one, are never settled
//!   afterwards, not even by answers after the resume; the one replied to loses its point.
//!   `a_stopped_sitting_is_never_settled`
//! - **R18, R21: while stopped** no finding is recorded and no recheck planned (the client is off the
//!   seat, a clinician has the case), but sites are remembered for R13; a reply to an announcement
//!   is told; with no request, marks are taken and calm words set aside.
//!   `while_stopped_replies_are_told_and_lift_nothing_and_an_alarming_one_alerts_anew`
//!   `only_a_clinician_ends_a_stop`
//! - **R22: alert times** are two grids counted from when the alert was raised; with one clinician
//!   the grid of passing on sends nothing. A new alert counts `again` from 0.
//!   `an_alert_is_repeated_and_passed_on_at_times_counted_from_when_it_was_raised`
//!   `a_repeat_that_falls_together_with_passing_on_is_one_sending`
//!   `with_one_clinician_an_alert_stays_and_never_ends_by_itself`
//! - **R22, R23: an answer to an older alert.** A clinician's mail answers the alert whose token it
//!   carries; any other notice counts by the newest alert that its reader had been sent before it.
//!   Where there is a newer alert, be it taken up by another, `seen`, `resume`, `keep-stopped` and
//!   `close` change nothing (`overtaken`, which no rehearsal prints): nobody takes up, lifts or ends
//!   what they may not have read. The newer alert is shown to the writer at once and goes on by its
//!   own clock. So too for an alert that was decided, while sitting has been stopped anew since; one
//!   that is still open is the newest. Where sitting goes on, `keep-stopped` stops it all the same: a
//!   stop is never too late. At the command line and in a rehearsal, a decision is about the newest
//!   alert. `an_answer_to_the_open_alert_counts_though_sitting_was_stopped_since`
//!   `a_late_resume_to_an_older_alert_lifts_nothing_though_the_newer_was_decided`
//!   `a_seen_to_an_older_alert_never_takes_a_newer_one_up`
//!   `a_decision_on_an_older_alert_lifts_and_ends_nothing`
//!   `a_decision_on_an_older_alert_lifts_nothing_though_another_has_taken_the_newer_up`
//!   `an_answer_to_another_notice_counts_by_the_alerts_that_its_reader_had_been_sent`
//!   `a_late_resume_to_the_alert_of_an_earlier_stop_does_not_lift_a_clinicians_later_stop`
//!   `keep_stopped_to_an_older_alert_stops_sitting_that_goes_on`
//!   `a_decision_that_answers_no_mail_is_about_the_newest_alert`
//! - **R23: `keep-stopped` while sitting goes on** prints the stop and what follows from it, without
//!   `kept-stopped`; said while stopped it prints `kept-stopped` each time.
//!   `keep_stopped_while_sitting_goes_on_is_a_stop_without_an_alert`
//!
//! ## Hours
//! - **R24, R25: quiet hours on the night of a clock change** lie between the instants of `from` and
//!   `to`, each by R25, and not by the wall clock at the moment. What falls into them waits, also
//!   where the clock change or an absence of the service put it there.
//!   `a_routine_look_that_a_clock_change_puts_into_quiet_hours_waits_for_their_end`
//!   `a_routine_look_missed_while_away_is_not_asked_in_quiet_hours`
//!   `a_reminder_missed_while_away_is_not_sent_in_quiet_hours`
//!   `a_reminder_that_a_clock_set_on_meets_in_quiet_hours_waits_for_their_end`
//! - **R22, R26: a machine's clock that is set back** makes nothing late: what waits by elapsed time
//!   (alerts, reminders, misses, rechecks, looks of a running sitting, rests, fade times) moves by the
//!   step, and times of day go by the new reading, none of them twice. A sitting that was announced
//!   is not announced again. Noticed only at a start, the step is known at least, but not how much
//!   longer the service was away: a waiting alert and open rechecks go out at once. A clock that is
//!   set on is taken for time that passed, which is never late.
//!   `an_alert_is_sent_again_as_soon_as_without_the_step`
//!   `reminders_and_a_miss_come_as_soon_as_without_the_step`
//!   `a_recheck_that_waits_becomes_a_stop_as_soon_as_without_the_step`
//!   `a_time_of_day_that_comes_twice_is_worked_through_once`
//!   `a_fade_time_is_not_shortened_by_the_step`
//!   `noticed_at_the_start_a_waiting_alert_and_a_recheck_go_out_at_once`
//! - **R26: after an absence** only the last of the routine looks and of the sittings that passed is
//!   taken up; a look of a begun sitting is asked late, and its clock runs from then. A reply that
//!   was waiting meanwhile is judged by when it is taken: late, where the look's time had run out.
//!   `after_an_absence_what_was_missed_is_asked_once`
//!   `after_an_absence_waiting_counts_from_when_a_person_was_really_asked`
//!   `a_reply_to_a_look_whose_time_ran_out_while_away_is_late`
//! - **R15, R26: when a reply came** that waited in the mailbox while the service was off is told by
//!   the mail server, whose clock may show something else than ours. Where ours is ahead, the mail
//!   looks older than it is. So it counts as come as late as it can have: by how far ours was ahead
//!   at most, which mail shows that is met as it comes; as long as no mail has shown that, when it
//!   was met. An answer may so be late that was not, never the other way round. That our clock was
//!   set back while the service was off, by less than it was off, nobody can see: what was asked
//!   before then waits longer by as much.
//!   `a_late_answer_that_waited_is_late_though_our_clock_is_hours_ahead`
//!   `an_answer_in_time_that_waited_is_in_time_whatever_the_mail_servers_clock_shows`
//!   `a_reply_counts_as_come_when_it_was_met_while_no_mail_has_told_how_far_our_clock_is_ahead`
//!   `an_absence_may_hide_a_clock_that_was_set_on_until_mail_that_is_met_live_tells_otherwise`
//! - **R27: reachable again** is a contact whose address the clinic changes, and nobody else; what was
//!   asked of the old address is asked at once of the first who can be reached.
//!   `a_new_address_makes_that_contact_alone_reachable_again`
//!   `another_order_of_the_contacts_makes_nobody_reachable_again`
//! - **R27: nobody left** raises an alert, and stops nothing: looks stay open and are missed at their
//!   time, which holds the client on the step.
//!   `when_nobody_can_be_reached_the_clinic_is_alerted`
//!
//! ## Shifts
//! The hours in which contacts are asked came after the text of the rules, which knows a calling
//! order only. Where no contact has hours, nothing here applies.
//! - **R2, R14: who is asked first** is the first in calling order whose hours hold at the moment of
//!   asking, be it an announcement, a look, a look asked anew or in place of somebody else. The
//!   others follow after those on shift, each group in calling order; where nobody's hours hold, that
//!   is the calling order. Hours put an order among people, they excuse nobody: silence is never all
//!   clear. `a_look_is_asked_of_the_first_whose_hours_hold_when_it_is_asked`
//!   `a_sitting_is_announced_to_the_first_whose_hours_hold_when_it_begins`
//!   `those_on_shift_are_asked_first_and_the_others_after_them`
//!   `where_nobodys_hours_hold_the_calling_order_counts`
//! - **R14: the shift changes while a look waits.** Nothing goes out at the change itself. The next
//!   request, at its own time, goes to the first on shift who was not asked about this look yet, with
//!   as many repeats as anybody; whose shift is over is not asked again, but may answer as before.
//!   The look keeps its clock, so that it is missed no later. Where nobody new is on shift, the one
//!   who is asked is asked on. So nobody is asked more often than the plan says.
//!   `a_reminder_goes_to_whoever_is_on_shift_by_then`
//!   `who_comes_on_shift_is_asked_before_the_others_are_asked_again`
//!   `at_the_end_of_a_shift_without_anybody_new_the_one_who_is_asked_is_asked_on`
//!   `a_reminder_after_the_quiet_hours_goes_to_whoever_is_on_shift_then`
//! - **R14, R27: the next contact**, where anybody has hours, is the first in the order of the moment
//!   who was not asked about this look yet, and not the one who follows by place: an order that
//!   changes with the hours would pass people over.
//!   `in_place_of_somebody_who_cannot_be_reached_the_next_on_shift_is_asked`
//! - **R12: the one who reported the mark** is asked about its recheck while on shift, or where nobody
//!   is: who has gone home cannot look. Once everybody was asked, a recheck does not stay with the
//!   last, if that one is off shift and another is on.
//!   `a_recheck_goes_to_the_reporter_unless_somebody_elses_shift_has_begun`
//!   `a_recheck_that_everybody_was_asked_about_goes_on_with_whoever_is_on_shift`
//! - **R25: the ends of hours** are wall-clock times of the client, taken as all others are on the
//!   nights of clock changes; hours that begin where others end leave no gap.
//!   `hours_cross_midnight_and_keep_to_the_clients_clock_on_the_nights_of_clock_changes`
//! - **R14: hours that are changed** move no request that is out; the next one goes by them. They stay
//!   on file of a contact who is asked no longer.
//!   `hours_said_while_a_look_waits_move_its_next_request_and_nothing_else`
//!   `who_is_chosen_again_has_the_hours_that_they_had`
//! - **R17, R29: answers, `unclear` and stops** know no hours: whoever was asked may answer, `unclear`
//!   is asked again of the one who wrote, a stop is told to everybody.
//!   `a_mark_from_a_contact_off_shift_counts_as_from_anybody_on_file`
//!
//! ## What is printed
//! - **R15: a missed look** prints `missed`, `clinic-told`, then what settles by it: `no-credit`,
//!   `suspended`, `clinic-told`. `missed_sittings_in_a_row_suspend_until_somebody_reports_again`
//! - **R5, R16: several sittings settled by one reply** print in the order of their numbers; an
//!   offset of UTC is `+00:00`; replies outside the days of a rehearsal are not read.
//!   `the_core_agrees_with_an_independent_reading_of_the_rules`
//!   `the_lines_are_those_of_the_rehearsal_format`
