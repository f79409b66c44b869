/* SPDX-License-Identifier: Apache-2.0 */
/* What a shell gets of the commands that need no osierd, as people read it and line by line: no clinic's folder, no daemon. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "tests/support/folder.h"
#include "tests/support/site.h"

typedef struct {
    const char *script, *out;
    int code;
} Case;

/* Each script says all of what stands beside it, on either stream. */
static void say(const Case *cases, size_t n)
{
    Site *site = site_new();

    for (size_t i = 0; i < n; i++) {
        g_autofree char *both = g_strconcat("exec 2>&1; ", cases[i].script, NULL);
        g_autofree char *out = NULL;
        int code = site_shell(site, &out, NULL, both);
        if (code != cases[i].code || strcmp(out, cases[i].out) != 0)
            fail_msg("%s: %d: %s", cases[i].script, code, out);
    }
    site_free(site);
}

static void replies_are_read_one_by_one_and_by_the_line(void **state)
{
    static const Case CASES[] = {
        {"$OSIER read 'did them, about a 4, no pain'", "done yes, stretch 4, pain 0\n", 0},
        {"$OSIER read 'chest pain'",
         "done -, stretch -, pain some, warning sign: heart, for a person\n", 0},
        {"$OSIER read STOP", "done -, stretch -, pain -, command: stop\n", 0},
        {"$OSIER read --language es 'dolor 3'", "done -, stretch -, pain 3\n", 0},
        {"$OSIER read -- '--lines'",
         "done -, stretch -, pain -, for a person, unread words: lines\n", 0},
        {"$OSIER read 'did them, my sister Quill says hello'",
         "done yes, stretch -, pain -, unread words: sister Quill says\n", 0},
        /* \n is a line break in a reply, \\ a backslash; a carriage return at the end is none of it */
        {"printf 'did them, 4\\\\nno pain\\nSTOP\\r\\nlast' | $OSIER read --lines --language en",
         "done yes, stretch 4, pain 0\ndone -, stretch -, pain -, command: stop\n"
         "done -, stretch -, pain -, for a person, unread words: last\n",
         0},
        {"$OSIER read --lines </dev/null", "", 0},
        {"$OSIER read --lines </", "osier: read: standard input: cannot be read\n", 74},
    };

    (void)state;
    say(CASES, G_N_ELEMENTS(CASES));
}

static void numbers_are_told_as_they_are_kept(void **state)
{
    static const Case CASES[] = {
        {"$OSIER number --country-code 44 '(020) 7946 0001'", "+442079460001\n", 0},
        {"$OSIER number -- '+44 20 7946 0001'", "+442079460001\n", 0},
        {"$OSIER number 'x'", "osier: number: x: holds what is no part of a phone number\n", 65},
        {"printf '020 7946 0001\\nx\\n' | $OSIER number --lines --country-code 44",
         "+442079460001\nholds what is no part of a phone number\n", 0},
        {"printf 'x\\n' | $OSIER number --lines --json",
         "{\"number\":null,\"why\":\"holds what is no part of a phone number\"}\n", 0},
        {"$OSIER number --lines </", "osier: number: standard input: cannot be read\n", 74},
    };

    (void)state;
    say(CASES, G_N_ELEMENTS(CASES));
}

static void texts_are_measured_as_they_would_travel(void **state)
{
    static const Case CASES[] = {
        {"$OSIER size a", "GSM-7, 1 unit, 1 segment\n", 0},
        {"$OSIER size -- --lines", "GSM-7, 7 units, 1 segment\n", 0},
        {"$OSIER size 'Hip 45\302\260'",
         "UCS-2, 7 units, 1 segment\noutside GSM-7: \302\260, character 7\n"
         "sent with look-alikes of GSM-7: Hip 45 deg\nGSM-7, 10 units, 1 segment\n",
         0},
        {"$OSIER size '\360\237\230\200'",
         "UCS-2, 2 units, 1 segment\noutside GSM-7: \360\237\230\200, character 1\n", 0},
        {"printf 'a\\nb\\\\nc' | $OSIER size --lines",
         "GSM-7, 1 unit, 1 segment\nGSM-7, 3 units, 1 segment\n", 0},
        {"$OSIER size --json '\342\200\234x'",
         "{\"alphabet\":\"ucs2\",\"units\":2,\"segments\":1,\"sent\":{\"alphabet\":\"gsm7\","
         "\"units\":2,\"segments\":1,\"text\":\"\\\"x\"}}\n",
         0},
        {"printf 'a\\n\\377\\nb\\n' | $OSIER size --lines",
         "osier: size: \357\277\275: is not UTF-8\nGSM-7, 1 unit, 1 segment\n", 65},
        {"printf '%161s\\n' '' | $OSIER size --lines", "GSM-7, 161 units, 2 segments\n", 0},
        {"$OSIER size --lines </", "osier: size: standard input: cannot be read\n", 74},
    };

    (void)state;
    say(CASES, G_N_ELEMENTS(CASES));
}

/* A line that never ends is cut, and what follows it is read all the same. */
static void a_line_without_an_end_is_cut(void **state)
{
    Site *site = site_new();
    g_autofree char *out = NULL;

    (void)state;
    assert_int_equal(site_shell(site, &out, NULL,
                                "{ head -c 300000 /dev/zero | tr '\\0' a; echo; echo STOP; } | "
                                "\"$OSIER\" read --lines | grep -c ."),
                     0);
    assert_string_equal(out, "2\n");
    site_free(site);
}

static void help_is_found_without_knowing_a_word(void **state)
{
    static const struct {
        const char *script, *begins;
        int code;
    } CASES[] = {
        {"$OSIER", "osier 0", 64},
        {"$OSIER --help", "osier 0", 0},
        {"$OSIER --version", "osier 0", 0},
        {"$OSIER --clinic", "osier: --clinic: : needs a folder\n", 64},
        {"$OSIER --clinic=x frobnicate", "osier: command: frobnicate: unknown", 64},
        {"$OSIER status --clinic=x --clinic y", "osier: --clinic: : is given twice", 64},
        {"${OSIER}d --help", "Usage:\n  osierd [OPTION ...] - keeps", 0},
        {"${OSIER}d --version", "osierd 0", 0},
        {"${OSIER}d --help | awk 'length > 80'; for c in $($OSIER --help | awk '/^  /{print $1}'); "
         "do "
         "$OSIER $c --help | awk 'length > 80'; done; echo narrow",
         "narrow\n", 0},
        {"$OSIER alert -h | grep -A1 'alert open'",
         "  osier alert open K7QF --kind fall --words \"daughter rang: she slipped\" \\\n"
         "      --by \"J. Lindqvist\"\n",
         0},
        {"${OSIER}d --seed 1 --seed 2", "osier: osierd: --seed: is given twice", 64},
        {"$OSIER client -h", "osier client add|list", 0},
        {"$OSIER --help --clinic=nowhere status", "osier status", 0},
        {"OSIER_CLINIC=nowhere $OSIER status", "osier: clinic: nowhere: there is no clinic.yaml",
         69},
        {"$OSIER status --clinic $(printf '%0120d' 1)", "osier: --clinic: 000", 64},
        {"$OSIER --manual | head -2", ".TH OSIER 1", 0},
        {"$OSIER rehearse --from 2026-03-02 --out x --clinic nowhere",
         "osier: --clinic: nowhere: holds no clinic.yaml", 78},
        {"$OSIER programme import x --clinic nowhere", "osier: --clinic: nowhere: is no folder",
         78},
        {"$OSIER programme export tall-and-open --out x --clinic nowhere",
         "osier: --clinic: nowhere: has faults", 78},
        {"$OSIER restore x --clinic nowhere", "osier: --clinic: nowhere: is no folder", 66},
        {"$OSIER move --to sqlite --clinic nowhere", "osier: clinic: nowhere: ", 78},
        {"$OSIER check --clinic nowhere", "osier: check: nowhere/store.db: no store there", 66},
        {"$OSIER sync import x --clinic nowhere", "osier: sync: nowhere: has never been paired",
         66},
        {"$OSIER check-program -- ./nowhere/modem",
         "osier: check-program: ./nowhere/modem: cannot be started", 66},
        {"ls nowhere", "ls: cannot access", 2}, /* nor was one made */
    };
    Site *site = site_new();

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(CASES); i++) {
        g_autofree char *both = g_strconcat("exec 2>&1; ", CASES[i].script, NULL);
        g_autofree char *out = NULL;
        int code = site_shell(site, &out, NULL, both);
        if (code != CASES[i].code || !g_str_has_prefix(out, CASES[i].begins))
            fail_msg("%s: %d: %s", CASES[i].script, code, out);
    }
    site_free(site);
}

/* A shell proposes what the table of commands has: second words, then options. */
static void a_shell_completes_words(void **state)
{
    static const Case CASES[] = {
        {". ./done; COMP_WORDS=(osier cl); COMP_CWORD=1; _osier; echo ${COMPREPLY[@]}",
         "client clock\n", 0},
        {". ./done; COMP_WORDS=(osier client re); COMP_CWORD=2; _osier; echo ${COMPREPLY[@]}",
         "resume\n", 0},
        {". ./done; COMP_WORDS=(osier client add --nee); COMP_CWORD=3; _osier; echo "
         "${COMPREPLY[@]}",
         "\n", 0},
        {". ./done; COMP_WORDS=(osier backup --k); COMP_CWORD=2; _osier; echo ${COMPREPLY[@]}",
         "--key\n", 0},
        {". ./done; COMP_WORDS=(osier plan s); COMP_CWORD=2; _osier; echo ${COMPREPLY[@]}",
         "set show\n", 0},
    };
    Site *site = site_new();

    (void)state;
    assert_int_equal(site_shell(site, NULL, NULL, "$OSIER --completion >done"), 0);
    for (size_t i = 0; i < G_N_ELEMENTS(CASES); i++) {
        g_autofree char *script = g_strdup_printf("bash -c '%s'", CASES[i].script);
        g_autofree char *out = NULL;
        int code = site_shell(site, &out, NULL, script);
        if (code != CASES[i].code || strcmp(out, CASES[i].out) != 0)
            fail_msg("%s: %d: %s", CASES[i].script, code, out);
    }
    site_free(site);
}

static void where_to_lie_is_told_with_its_cautions(void **state)
{
    static const struct {
        const char *words, *holds;
    } CASES[] = {
        {"setup heel --stature-cm 170 --height-cm 45", "(estimated as 0.530 of stature"},
        {"setup heel --leg-cm 85 --height-cm 45", "The support must not slip"},
        {"setup ball --leg-cm 85 --ball-cm 65", "taken to be 10 cm above the floor"},
        {"setup ball --leg-cm 85 --ball-cm 65 --hip-cm 12", "cannot roll away"},
        {"setup door --leg-cm 85 --angle-deg 70", "hip joint 29.1 cm from the frame"},
        {"setup door --leg-cm 85 --angle-deg 70", "Stop where the small of the back"},
    };
    Site *site = site_new();

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(CASES); i++) {
        g_autofree char *told = site_told(site, "%s", CASES[i].words);
        if (strstr(told, CASES[i].holds) == NULL) fail_msg("%s: %s", CASES[i].words, told);
    }
    g_autofree char *own = site_told(site, "setup ball --leg-cm 85 --ball-cm 65 --hip-cm 12");
    assert_null(strstr(own, "taken to be"));
    site_free(site);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(replies_are_read_one_by_one_and_by_the_line),
        cmocka_unit_test(numbers_are_told_as_they_are_kept),
        cmocka_unit_test(texts_are_measured_as_they_would_travel),
        cmocka_unit_test(a_line_without_an_end_is_cut),
        cmocka_unit_test(help_is_found_without_knowing_a_word),
        cmocka_unit_test(a_shell_completes_words),
        cmocka_unit_test(where_to_lie_is_told_with_its_cautions),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
