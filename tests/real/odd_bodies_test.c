/* SPDX-License-Identifier: Apache-2.0 */
/* Calls of the JSON API whose body holds something else than it should, field by field: each is refused with the field's name and a
 * reason, none passes for not given, and nothing is written. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "tests/support/json_look.h"
#include "tests/support/solo.h"

/* What may stand in any body; ADA is the client, ALERT an alert of hers. Each would be taken, or would be but for an id. */
static const struct {
    const char *path, *body;
} CALLS[] = {
    {"/clients",
     "{'name':'Bea K.','zone':'Europe/London','language':'en','channel':'sms','phone':"
     "'+442079460002','email':'b@post.example','consent':'sms: form, R. Okafor, 2026-03-01',"
     "'stature_cm':170,'leg_cm':85,'usual_pain':2,'needs':'x','born':1950,'calendar':'yes',"
     "'wording':'plain'}"},
    {"/clients/ADA", "{'name':'Ada N.','phone':'+442079460001','consent':'sms: form, R. Okafor, "
                     "2026-03-01','returned':'no','usual_pain':1}"},
    {"/clients/ADA/pause", "{'until':'2026-04-01','why':'away','by':'x'}"},
    {"/clients/ADA/resume", "{'by':'x'}"},
    {"/clients/ADA/end", "{'why':'moved','by':'x'}"},
    {"/clients/ADA/same-as", "{'as':'ADA','by':'x'}"},
    {"/clients/ADA/erase", "{'why':'asked','by':'R. Okafor'}"},
    {"/clients/ADA/screen", "{'by':'R. Okafor','floor':'yes','clear':true}"},
    {"/clients/ADA/screen", "{'by':'R. Okafor','floor':'yes','findings':['hip']}"},
    {"/clients/ADA/plan",
     "{'programme':'calf-and-hamstring','at':'09:00','rule':'FREQ=DAILY','start':'2026-03-02',"
     "'angle_deg':62,'felt':'thigh','side':'both','clinician':'R. Okafor','by':'x',"
     "'review':'2026-06-01','goal_deg':80}"},
    {"/clients/ADA/plan/move", "{'stage':'calf-with-strap','by':'R. Okafor'}"},
    {"/clients/ADA/measures", "{'movement':'leg-raise','side':'left','method':'goniometer',"
                              "'angle_deg':68,'landmark':'heel','date':'2026-03-02','by':'x'}"},
    {"/clients/ADA/measures", "{'movement':'leg-raise','side':'left','method':'door',"
                              "'distance_cm':30,'by':'x'}"},
    {"/clients/ADA/reports",
     "{'date':'2026-03-02','slot':1,'done':'yes','intensity':4,'pain':0,'by':'x'}"},
    {"/clients/ADA/reports", "{'date':'2026-03-02','words':'I fell','by':'x'}"},
    {"/clients/ADA/alerts", "{'kind':'other','words':'x','by':'x'}"},
    {"/alerts/ALERT/take", "{'by':'x'}"},
    {"/alerts/ALERT/close", "{'outcome':'refer','by':'x','note':'y'}"},
    {"/accounts", "{'name':'R. Okafor','role':'desk'}"},
    {"/imports/K7QF2M9T/rows", "{'rows':[{'name':'I','phone':'+442079460008','row':2}],"
                               "'by':'x'}"},
    {"/sender", "{'by':'x','even_so':true}"},
    {"/sync/settle/00", "{'take':'counts','by':'x'}"},
    {"/sync/join/00", "{'with':'localhost:1'}"},
    {"/sync/take", "{'from':'0123456789abcdef','parcel':'AAAA'}"},
    {"/sync/bundle", "{'peer':'x','after':[],'all':false}"},
    {"/unread/00/settle", "{'by':'x','done':'yes','intensity':4,'pain':0}"},
    {"/glance/00/seen", "{'by':'x'}"},
    {"/clock", "{'to':'2026-03-02T09:00:00Z'}"},
};

static json_t *odd(size_t which)
{
    g_autofree char *endless = g_strnfill(5000, 'x');

    switch (which) {
    case 0: return json_integer(-1);
    case 1: return json_real(1e300);
    case 2: return json_object();
    case 3: return json_pack("[[i]]", 1);
    case 4: return json_string(endless);
    case 5: return json_string("a\x01z");
    default: return NULL;
    }
}

static size_t events(Site *site)
{
    json_t *status = site_ask(site, "status");
    size_t n = (size_t)json_integer_value(json_object_get(status, "events"));

    json_decref(status);
    return n;
}

static char *fill(const char *text, const char *ada, const char *alert)
{
    GString *filled = g_string_new(text);

    g_string_replace(filled, "ADA", ada, 0);
    g_string_replace(filled, "ALERT", alert, 0);
    g_string_replace(filled, "'", "\"", 0);
    return g_string_free(filled, FALSE);
}

/* Refused for what the call holds, in words. */
static void is_refused(Site *site, const char *path, json_t *body, const char *field)
{
    long status;
    json_t *answer = site_call(site, "POST", path, body, &status);
    const json_t *error = json_object_get(answer, "error");
    const char *what = json_string_value(json_object_get(error, "what"));
    const char *why = json_string_value(json_object_get(error, "why"));

    if (status < 400 || status > 499 || what == NULL || why == NULL || *why == '\0')
        fail_msg("%s %s: %ld %s: %s", path, field, status, what, why);
    json_decref(answer);
}

static void every_field_of_every_call_is_judged(void **state)
{
    Solo desk = solo_open(SPEAKS_JSON, "08:30");

    (void)state;
    solo_to(&desk, "2026-03-02T08:45:00Z");
    json_t *opened = site_ask(desk.site, "alert open %s --kind other --words x --by x", desk.ada);
    g_autofree char *alert = look_copy(opened, "alert");
    json_decref(opened);
    assert_true(site_clock(desk.site, "2026-03-02T09:00:00Z"));
    size_t before = events(desk.site);
    for (size_t i = 0; i < G_N_ELEMENTS(CALLS); i++) {
        g_autofree char *path = fill(CALLS[i].path, desk.ada, alert);
        g_autofree char *text = fill(CALLS[i].body, desk.ada, alert);
        json_t *whole = json_loads(text, 0, NULL);
        const char *field;
        json_t *value;
        assert_non_null(whole);
        is_refused(desk.site, path, json_pack("[s]", "what"), "in place of an object");
        json_object_foreach(whole, field, value)
        {
            for (size_t k = 0; k < 6; k++) {
                json_t *body = json_deep_copy(whole);
                json_object_set_new(body, field, odd(k));
                is_refused(desk.site, path, body, field);
            }
        }
        json_decref(whole);
    }
    assert_int_equal(events(desk.site), before);
    solo_close(&desk);
}

/* What is known by its path and not by its method, or by neither. */
static void calls_that_are_not_there(void **state)
{
    static const struct {
        const char *method, *path;
        long status;
    } CASES[] = {
        {"GET", "/nowhere", 404},    {"POST", "/status", 405},
        {"DELETE", "/clients", 405}, {"GET", "/clients/x/pause", 405},
        {"GET", "/clients//", 404},  {"GET", "/clients/x/y/z/w", 404},
    };
    Solo desk = solo_open(SPEAKS_JSON, "08:30");

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(CASES); i++) {
        long status;
        json_t *answer = site_call(desk.site, CASES[i].method, CASES[i].path, NULL, &status);
        if (status != CASES[i].status || json_object_get(answer, "error") == NULL)
            fail_msg("%s %s: %ld", CASES[i].method, CASES[i].path, status);
        json_decref(answer);
    }
    solo_close(&desk);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_field_of_every_call_is_judged),
        cmocka_unit_test(calls_that_are_not_there),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
