/* SPDX-License-Identifier: Apache-2.0 */
/* What the clinic file may open to others: where the page, the hooks and other replicas are listened to, what a program is
 * started by, whom a copy is sealed to. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

#include "core/clinic/clinic.h"

#define KEY "osier-seal-0123456789abcdefghijklmnopqrstuvwxyzABC-_fg"

static const char SETTINGS[] =
    "{'clinic': {'name': 'Saltmarsh Lane', 'zone': 'Europe/London', 'phone': '+442079460100',"
    "            'emergency': '999', 'hours': {'mon-fri': '08:30-17:30'},"
    "            'digest': {'to': ['desk@clinic.example']}},"
    " 'duty': [{'name': 'R. Okafor', 'sms': '+442079460190'}],"
    " 'gateways': {'spool': {'kind': 'spool'}}, %s}";

/* The settings with more keys, in JSON with single quotes. */
static Clinic *with(const char *more, Faults *faults)
{
    g_autofree char *text = g_strdup_printf(SETTINGS, more);
    json_t *tree = json_loads(g_strdelimit(text, "'", '"'), 0, NULL);

    assert_non_null(tree);
    Clinic *clinic = clinic_read(tree, faults);
    json_decref(tree);
    return clinic;
}

static void fine(const char *more)
{
    g_autoptr(Faults) faults = faults_new();
    g_autoptr(Clinic) clinic = with(more, faults);

    if (clinic == NULL || faults->items->len > 0) fail_msg("%s is refused", more);
}

static void refused(const char *more, const char *pointer, const char *why)
{
    g_autoptr(Faults) faults = faults_new();
    g_autoptr(Clinic) clinic = with(more, faults);

    if (clinic != NULL && faults->items->len == 0) fail_msg("%s is taken", more);
    const Fault *fault = faults->items->pdata[0];
    if (strcmp(fault->pointer, pointer) != 0 || strstr(fault->why, why) == NULL)
        fail_msg("%s: %s: %s", more, fault->pointer, fault->why);
}

/* Passwords go over it. */
static void the_page_is_not_opened_to_others_without_tls(void **state)
{
    (void)state;
    fine("'page': {'listen': '127.0.0.1:8750'}");
    fine("'page': {'listen': '[::1]:8750'}");
    fine("'page': {'listen': '0.0.0.0:8750', 'url': 'https://page.clinic.example'}");
    refused("'page': {'listen': '0.0.0.0:8750'}", "/page/listen", "not of this machine alone");
    refused("'page': {'listen': '[::]:8750'}", "/page/listen", "not of this machine alone");
    refused("'page': {'listen': '192.0.2.7:8750'}", "/page/listen", "not of this machine alone");
    refused("'page': {'listen': '192.0.2.7:8750', 'url': 'http://page.clinic.example'}",
            "/page/listen", "not of this machine alone");
}

/* A page's own address is what its requests are told apart by: a path or a user in it would never match. */
static void the_pages_address_is_an_origin(void **state)
{
    static const char *const BAD[] = {"page.clinic.example",
                                      "ftp://page.clinic.example",
                                      "https://",
                                      "https://page.clinic.example/",
                                      "https://page.clinic.example?a",
                                      "https://a@page.clinic.example"};

    (void)state;
    for (gsize i = 0; i < G_N_ELEMENTS(BAD); i++) {
        g_autofree char *more =
            g_strdup_printf("'page': {'listen': '127.0.0.1:8750', 'url': '%s'}", BAD[i]);
        refused(more, "/page/url", "must be an address without a path");
    }
}

static void replicas_have_a_listener_of_their_own(void **state)
{
    (void)state;
    fine("'sync': {'listen': '0.0.0.0:8752', 'name': 'desk'}");
    fine("'sync': {'name': 'laptop'}");
    refused("'sync': {'listen': 'clinic.example:8752'}", "/sync/listen", "must be an IP address");
    refused("'sync': {'listen': '8752'}", "/sync/listen", "must be an IP address");
    refused("'sync': {'listen': '127.0.0.1:8750'}", "/sync/listen", "a listener of their own");
    refused("'hooks': {'listen': '127.0.0.1:8751'}, 'sync': {'listen': '127.0.0.1:8751'}",
            "/sync/listen", "a listener of their own");
    refused("'sync': {'every': '1s'}", "/sync/every", "duration");
}

/* A key that is none would seal every night's copy to nobody. */
static void a_copy_is_sealed_to_a_key_that_can_be_one(void **state)
{
    static const char *const BAD[] = {"osier-open-0123456789abcdefghijklmnopqrstuvwxyzABC-_fg",
                                      "osier-seal-0123456789abcdefghijklmnopqrstuvwxyzABC-_f",
                                      "osier-seal-0123456789abcdefghijklmnopqrstuvwxyzABC-_fgh",
                                      "osier-seal-0123456789abcdefghijklmnopqrstuvwxyzABC/+fg"};

    (void)state;
    fine("'backup': {'at': '03:00', 'key': '" KEY "'}");
    for (gsize i = 0; i < G_N_ELEMENTS(BAD); i++) {
        g_autofree char *more = g_strdup_printf("'backup': {'at': '03:00', 'key': '%s'}", BAD[i]);
        refused(more, "/backup/key", "must be what osier backup --new-key prints");
    }
    refused("'backup': {'at': '3 am'}", "/backup/at", "must be a time of day");
    refused("'backup': {'keep': 7}", "/backup", "is missing");
}

static void program_of(const char *command, const char *pointer, const char *why)
{
    g_autofree char *more =
        g_strdup_printf("'gateways': {'modem': {'kind': 'program', 'command': %s}}", command);

    if (why != NULL)
        refused(more, pointer, why);
    else
        fine(more);
}

/* Nothing is looked for in a PATH that somebody else may have set. */
static void a_program_is_named_by_its_path(void **state)
{
    (void)state;
    program_of("['programs/modem', '--fast']", NULL, NULL);
    program_of("['/usr/lib/modem']", NULL, NULL);
    program_of("['modem']", "/gateways/modem/command", "must begin with the path of a program");
    program_of("[]", "/gateways/modem/command", "is empty");
    program_of("'modem'", "/gateways/modem/command", "must begin with the path of a program");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_page_is_not_opened_to_others_without_tls),
        cmocka_unit_test(the_pages_address_is_an_origin),
        cmocka_unit_test(replicas_have_a_listener_of_their_own),
        cmocka_unit_test(a_copy_is_sealed_to_a_key_that_can_be_one),
        cmocka_unit_test(a_program_is_named_by_its_path),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
