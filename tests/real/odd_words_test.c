/* SPDX-License-Identifier: Apache-2.0 */
/* What is typed at the command line and is no text, no id, no place for a file: one clear line, and nothing is kept of it. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "tests/support/folder.h"
#include "tests/support/json_look.h"
#include "tests/support/settings.h"
#include "tests/support/site.h"

#define ADD                                                                                        \
    "client add --name 'Ada N.' --zone Europe/London --language en --channel sms "                 \
    "--phone +442079460001 --consent 'sms: signed form, R. Okafor, 2026-03-01'"

typedef struct {
    Site *site;
    char *ada;
} Desk;

static int setup(void **state)
{
    Desk *desk = g_new0(Desk, 1);
    g_autofree char *settings = settings_plain("Withy Lane", "", "");

    desk->site = site_new();
    site_settings(desk->site, settings);
    assert_int_equal(site_start(desk->site, "2026-03-02T09:00:00Z"), 0);
    json_t *added = site_ask(desk->site, ADD);
    desk->ada = look_copy(added, "client");
    json_decref(added);
    *state = desk;
    return 0;
}

static int teardown(void **state)
{
    Desk *desk = *state;

    site_free(desk->site);
    g_free(desk->ada);
    g_free(desk);
    return 0;
}

/* Words with ADA for the client, and @ for something else. */
static char *fill(const Desk *desk, const char *words, const char *with)
{
    GString *line = g_string_new(words);

    g_string_replace(line, "ADA", desk->ada, 0);
    g_string_replace(line, "@", with, 0);
    return g_string_free(line, FALSE);
}

static size_t events(Desk *desk)
{
    json_t *status = site_ask(desk->site, "status");
    size_t n = (size_t)json_integer_value(json_object_get(status, "events"));

    json_decref(status);
    return n;
}

static void a_word_that_is_no_text_is_refused_and_nothing_is_lost(void **state)
{
    static const char *const WORDS[] = {
        "screen ADA --by 'R. Okafor' --floor yes --finding 'hip replacement' --finding '@'",
        "screen ADA --by '@' --floor yes --clear",
        "client set ADA --needs '@'",
        "alert open ADA --kind fall --words '@' --by 'R. Okafor'",
        "report ADA --date 2026-03-02 --words '@' --by 'R. Okafor'",
        "account add '@' --role desk",
        "client pause ADA --until 2026-04-01 --why away --by '@'",
        "messages --client '@'",
        "clock to '@'",
        "records calendar ADA --revoke --by '@'",
        "records undo K7QF2M9T --by '@'",
        "records drop ADA --by '@'",
        "number '@'",
        "size '@'",
        "setup door --leg-cm '@' --angle-deg 60",
        "week --of '@'",
        "handout ADA --paper '@' --out x",
        "account add x --role '@'",
    };
    Desk *desk = *state;
    size_t before = events(desk);

    for (size_t i = 0; i < G_N_ELEMENTS(WORDS); i++) {
        g_autofree char *line = fill(desk, WORDS[i], "caf\xe9");
        g_autofree char *err = NULL;
        int code = site_osier(desk->site, NULL, &err, "%s", line);
        bool clear = strstr(err, "UTF-8") != NULL || strstr(err, "is no phone number") != NULL ||
                     strstr(err, "ASCII") != NULL;
        if ((code != 65 && code != 64) || !clear || !g_utf8_validate(err, -1, NULL))
            fail_msg("%s: %d: %s", WORDS[i], code, err);
    }
    /* One by one in a list, too: an empty finding beside a good one. */
    site_fails(desk->site, 64, "finding: : is empty",
               "screen %s --by 'R. Okafor' --floor yes --finding 'hip' --finding ''", desk->ada);
    assert_int_equal(events(desk), before);
}

/* Each with all that it needs otherwise. */
static const char *const OF_AN_ID[] = {
    "client show '@'",
    "client set '@' --name X",
    "client pause '@' --until 2026-04-01 --why away --by x",
    "client resume '@' --by x",
    "client end '@' --why moved --by x",
    "client same '@' --as ADA --by x",
    "client summary '@'",
    "client erase '@' --by 'R. Okafor' --why 'early: asked'",
    "screen '@' --by 'R. Okafor' --floor yes --clear",
    "plan set '@' --programme calf-and-hamstring --at 09:00",
    "plan show '@'",
    "plan move '@' --stage upkeep --by 'R. Okafor'",
    "sessions '@' --from 2026-03-02 --days 1",
    "report '@' --date 2026-03-02 --done yes --by x",
    "adherence '@'",
    "measure add '@' --movement leg-raise --side left --method goniometer --angle-deg 68 --by x",
    "measure list '@'",
    "ready '@'",
    "alert take '@' --by x",
    "alert close '@' --outcome end --by x",
    "alert open '@' --kind fall --words w --by x",
    "unread settle '@' --by x",
    "glance seen '@' --by x",
    "why '@'",
    "handout '@' --out out.pdf",
    "summary '@' --out out.pdf",
    "summary '@' --words",
    "sync settle '@' --take counts --by x",
    "sync unpair '@'",
    "account link '@'",
    "account close '@'",
    "records undo '@'",
    "records confirm '@' --by 'R. Okafor'",
    "records drop '@' --by x",
    "records calendar '@' --out out.ics",
    "records calendar '@' --revoke",
};

/* Some of these a path would take for another place. */
static void an_id_that_is_none_is_said_to_be(void **state)
{
    static const char *const IDS[] = {
        "", ".", "..", "../..", "ADA/plan", "a/b", "%2e%2e", "x?y=1", "x#y", " ", "\xff", "ADAA",
    };
    Desk *desk = *state;
    size_t before = events(desk);

    for (size_t i = 0; i < G_N_ELEMENTS(OF_AN_ID); i++)
        for (size_t j = i % 3; j < G_N_ELEMENTS(IDS); j += 3) {
            g_autofree char *id = fill(desk, IDS[j], "");
            g_autofree char *line = fill(desk, OF_AN_ID[i], id);
            g_autofree char *shown = g_utf8_make_valid(id, -1);
            site_fails(desk->site, 66, shown, "%s", line);
        }
    assert_int_equal(events(desk), before);
}

/* What needs a word more, or has one too many, or one that is not known. */
static void words_too_few_and_too_many(void **state)
{
    static const struct {
        const char *holds, *words;
    } CASES[] = {
        {"of: is given twice", "week --of 2026-03-02 --of 2026-03-09"},
        {"phone: is given twice", "client set ADA --phone '020 7946 0001' --phone='020 7946 0002'"},
        {"zone: is given twice", "times --zone UTC --zone Europe/London"},
        {"floor: is given twice", "screen ADA --floor yes --finding a --finding b --floor no"},
        {"needs an id", "client show"},
        {"one word too many", "client show ADA ADA"},
        {"one word too many", "client list ADA"},
        {"is not understood", "client"},
        {"is not understood", "client rename ADA"},
        {"is not understood", "sender"},
        {"needs an id", "why"},
        {"needs an id", "glance seen --by x"},
        {"one word too many", "alerts now"},
        {"one word too many", "metrics now"},
        {"--soon", "metrics --soon"},
        {"one word too many", "week 2026-03-02"},
        {"--soon", "week --soon"},
        {"is needed with --format pdf", "week --format pdf"},
        {"write: osier clock to", "clock"},
        {"write: osier clock to", "clock back 2026-03-02T08:00:00Z"},
        {"write: osier account add", "account add"},
        {"write: osier account add", "account add 'R. Okafor'"},
        {"write: osier account add", "account add R. Okafor --role desk"},
        {"--soon", "account add x --role desk --soon"},
        {"needs one file", "backup"},
        {"needs one file", "backup x y"},
        {"needs one file", "backup x --new-key y"},
        {"--soon", "backup x --soon"},
        {"needs one file", "restore"},
        {"needs one file", "restore x y"},
        {"--soon", "restore x --soon"},
        {"takes no words", "check now"},
        {"--soon", "check --soon"},
        {"takes no further words", "check-config now"},
        {"--soon", "check-config --soon"},
        {"takes no words", "move now"},
        {"must be postgres or sqlite", "move"},
        {"must be postgres or sqlite", "move --to paper"},
        {"--soon", "move --soon"},
        {"needs one folder", "init"},
        {"needs one folder", "init x y"},
        {"needs one folder", "init ''"},
        {"--soon", "init x --soon"},
        {"needs one client", "handout --out x.pdf"},
        {"needs one client", "handout ADA ADA --out x.pdf"},
        {"is needed: --out", "handout ADA"},
        {"--soon", "handout ADA --soon"},
        {"needs one client", "summary"},
        {"needs one client", "summary ADA ADA"},
        {"--soon", "summary ADA --soon"},
        {"must be one of import, imports", "records"},
        {"must be one of import, imports", "records burn"},
        {"needs --csv FILE or --fhir FILE", "records import"},
        {"needs --csv FILE or --fhir FILE", "records import --csv a --fhir b"},
        {"needs --csv FILE or --fhir FILE", "records import --csv a b"},
        {"--soon", "records import --csv a --soon"},
        {"must be one of day-first, month-first", "records import --csv a --dates year-first"},
        {"takes no words", "records imports now"},
        {"needs one import's id", "records undo"},
        {"needs one import's id", "records undo x y"},
        {"--soon", "records undo x --soon"},
        {"needs --csv --out DIR", "records export --csv"},
        {"needs --csv --out DIR", "records export --out x"},
        {"needs --csv --out DIR", "records export --csv --fhir --out x"},
        {"needs --csv --out DIR", "records export --csv ADA --out x"},
        {"needs --csv --out DIR", "records export --fhir ADA ADA --out x"},
        {"--soon", "records export --soon"},
        {"needs CLIENT and one of", "records calendar"},
        {"needs CLIENT and one of", "records calendar ADA"},
        {"needs CLIENT and one of", "records calendar ADA --link --revoke"},
        {"needs CLIENT and one of", "records calendar --reviews --link"},
        {"needs CLIENT and one of", "records calendar ADA --reviews --out x"},
        {"--soon", "records calendar ADA --soon"},
        {"needs a peer and a new file", "sync export"},
        {"needs a peer and a new file", "sync export laptop"},
        {"--soon", "sync export laptop x --soon"},
        {"needs one file", "sync import"},
        {"needs one file", "sync import x y"},
        {"--soon", "sync import x --soon"},
        {"is not understood", "sync"},
        {"needs list, export KEY", "programme burn"},
        {"needs list, export KEY", "programme list now"},
        {"needs list, export KEY", "programme export tall-and-open"},
        {"needs list, export KEY", "language import"},
        {"--soon", "language --soon"},
        {"name the program", "check-program"},
        {"--soon", "check-program --soon"},
        {"takes one text", "read"},
        {"takes one text", "read a b"},
        {"from standard input", "read --lines a"},
        {"no such language pack", "read --language xx a"},
        {"--soon", "read --soon a"},
        {"takes one TEXT", "size"},
        {"takes one TEXT", "size a b"},
        {"from standard input", "size --lines a"},
        {"--soon", "size --soon"},
        {"takes one number", "number"},
        {"from standard input", "number --lines a"},
        {"is 1 to 3 digits", "number --country-code 044 '020 7946 0001'"},
        {"is 1 to 3 digits", "number --country-code 4444 '020 7946 0001'"},
        {"is 1 to 3 digits", "number --country-code '' '020 7946 0001'"},
        {"is 1 to 3 digits", "number --country-code UK '020 7946 0001'"},
        {"--soon", "number --soon"},
        {"is not expected", "times now"},
        {"--zone", "times --start 2026-03-28T01:30 --rule FREQ=DAILY"},
        {"is not expected", "rehearse now"},
        {"--from: is missing", "rehearse --out x"},
        {"--out: is missing", "rehearse --from 2026-03-02"},
        {"--out: is missing", "rehearse --from 2026-03-02 --out ''"},
        {"is no date", "rehearse --from tomorrow --out x"},
        {"must be 1 to 366", "rehearse --from 2026-03-02 --out x --days 0"},
        {"must be 1 to 366", "rehearse --from 2026-03-02 --out x --days 367"},
        {"must be 1 to 15", "rehearse --from 2026-03-02 --out x --clients 16"},
        {"must be 1 to 15", "rehearse --from 2026-03-02 --out x --clients 0"},
        {"must be 1 to 15", "rehearse --from 2026-03-02 --out x --clients -1"},
        {"--soon", "rehearse --soon"},
    };
    Desk *desk = *state;

    for (size_t i = 0; i < G_N_ELEMENTS(CASES); i++) {
        g_autofree char *line = fill(desk, CASES[i].words, "");
        site_fails(desk->site, 64, CASES[i].holds, "%s", line);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(a_word_that_is_no_text_is_refused_and_nothing_is_lost,
                                        setup, teardown),
        cmocka_unit_test_setup_teardown(an_id_that_is_none_is_said_to_be, setup, teardown),
        cmocka_unit_test_setup_teardown(words_too_few_and_too_many, setup, teardown),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
