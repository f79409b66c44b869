/* SPDX-License-Identifier: Apache-2.0 */
/* The database goes away in the midst of a job, at every point of every step of a short day. Nothing may crash, nothing of a half job is
 * kept, and nobody is told that a client does not exist because the server blinked. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <glib.h>

#include "tests/sim/loss.h"

#define ADA_PHONE "+442079460001"
#define BEA_PHONE "+442079460002"
#define OKAFOR "+442079460190"
#define BY "\"by\":\"R. Okafor\""
#define CONSENT "\"consent\":\"sms: signed form, R. Okafor, 2026-03-01\""
#define PLAN "\"programme\":\"calf-and-hamstring\",\"stage\":\"calf-with-strap\""

static const char *const DAY[] = {
    "POST /clients {\"name\":\"Ada Marsh\",\"zone\":\"Europe/London\",\"language\":\"en\","
    "\"channel\":\"sms\",\"phone\":\"" ADA_PHONE "\"," CONSENT "} -> ada=client",
    "POST /clients/$ada/screen {" BY ",\"floor\":\"yes\",\"clear\":true}",
    "POST /clients/$ada/plan {" PLAN ",\"at\":\"08:30\"}",
    "POST /enrolments {\"save\":true," BY ",\"client\":{\"name\":\"Bea Fen\",\"channel\":\"sms\","
    "\"phone\":\"" BEA_PHONE "\"," CONSENT "},\"screen\":{\"floor\":\"yes\",\"clear\":true},"
    "\"plan\":{" PLAN ",\"at\":\"08:30\"}} -> bea=client",
    "GET /clients",
    "GET /clients/$ada",
    "GET /roster",
    "TO 2026-03-02T08:29:00Z",
    "TO 2026-03-02T08:31:00Z",
    "TEXT " ADA_PHONE " done 4, no pain",
    "TEXT " BEA_PHONE " I have chest pain since this morning",
    "GET /alerts -> alert=code",
    "GET /calls",
    "GET /today",
    "TEXT " OKAFOR " TAKE $alert",
    "POST /alerts/$alert/close {" BY ",\"outcome\":\"resume\",\"note\":\"seen\"}",
    "GET /replies",
    "TEXT " ADA_PHONE " done 3 and the garden is nice today",
    "TEXT +442079460055 who is this",
    "GET /glance -> glance=reply",
    "GET /why/$glance",
    "POST /glance/$glance/seen {" BY "}",
    "GET /unread -> unread=reply",
    "POST /unread/$unread/settle {" BY "}",
    "POST /clients/$ada/reports {" BY
    ",\"date\":\"2026-03-02\",\"slot\":1,\"done\":\"partly\",\"pain\":2}",
    "POST /clients/$ada/reports {" BY
    ",\"date\":\"2026-03-02\",\"slot\":1,\"words\":\"I fell in the bath\"}",
    "POST /clients/$ada/measures {" BY ",\"movement\":\"leg-raise\",\"method\":\"goniometer\","
    "\"side\":\"left\",\"value\":61}",
    "GET /clients/$ada/measures",
    "GET /clients/$ada/ready",
    "POST /clients/$bea/plan/move {" BY ",\"stage\":\"lower-hamstring\"}",
    "POST /clients/$bea {\"zone\":\"Europe/Paris\"}",
    "POST /clients/$bea/pause {\"why\":\"away\",\"until\":\"2026-03-04\"}",
    "POST /clients/$bea/resume {}",
    "POST /clients/$bea/alerts {" BY
    ",\"kind\":\"pain\",\"words\":\"the knee hurts\"} -> second=code",
    "POST /alerts/$second/take {" BY "}",
    "TEXT " BEA_PHONE " STOP",
    "TEXT " BEA_PHONE " START",
    "POST /alerts/$second/close {" BY ",\"outcome\":\"step-back\"}",
    "GET /clients/$ada/sessions?from=2026-03-02&days=7",
    "GET /clients/$ada/adherence",
    "GET /clients/$ada/course",
    "GET /clients/$ada/summary",
    "GET /clients/$ada/plan",
    "GET /clients/$ada/calendar",
    "GET /reviews",
    "GET /messages",
    "GET /status",
    "GET /week",
    "GET /sender",
    "GET /sync",
    "GET /sync/conflicts",
    "GET /drafts",
    "GET /imports",
    "GET /looks",
    "GET /programmes",
    "POST /accounts {\"name\":\"R. Okafor\",\"role\":\"clinician\"}",
    "GET /accounts",
    "TO 2026-03-02T12:31:00Z",
    "TO 2026-03-03T04:31:00Z",
    "TO 2026-03-03T08:31:00Z",
    "TEXT " ADA_PHONE " some pain",
    "TO 2026-03-04T08:31:00Z",
    "TEXT " ADA_PHONE " TAKE 123",
    "TEXT " ADA_PHONE " PAUSE",
    "POST /clients/$ada/end {" BY ",\"why\":\"moved\"}",
    "GET /alerts -> third=code",
    "POST /alerts/$third/close {" BY ",\"outcome\":\"refer\"}",
    "GET /alerts -> fourth=code",
    "POST /alerts/$fourth/close {" BY ",\"outcome\":\"refer\"}",
    "GET /alerts -> fifth=code", /* START while on hold is left to a person */
    "POST /alerts/$fifth/close {" BY ",\"outcome\":\"refer\"}",
    "POST /clients/$bea/erase {" BY ",\"why\":\"asked for it\"}",
    "TO 2026-03-09T07:59:00Z",
    /* a digest that was not posted is begun anew after ten minutes */
    "ABOUT 2026-03-09T08:15:00Z",
};

/* With sanitizers a process that branches off costs much: each point is tried without them (OSIER_TEST_LONG), and some with. */
static void a_day(bool far)
{
    int apart = g_getenv("OSIER_TEST_LONG") != NULL ? 1 : 11;

    assert_int_equal(loss_day(DAY, G_N_ELEMENTS(DAY), far, apart), 0);
}

static void a_day_with_the_database_near(void **state)
{
    (void)state;
    a_day(false);
}

static void a_day_with_the_database_far(void **state)
{
    (void)state;
    a_day(true);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_day_with_the_database_near),
        cmocka_unit_test(a_day_with_the_database_far),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
