/* SPDX-License-Identifier: Apache-2.0 */
/* A clinic's settings made harmless: every address one of the stand-ins', every secret a dummy. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

#include "adapters/files/clinic_file.h"
#include "daemon/rehearsal/working_copy.h"
#include "tests/support/folder.h"
#include "tests/support/settings.h"

static const Places PLACES = {
    .gateway = 4711, .mail = 4712, .mailbox = 4715, .hooks = 4713, .page = 4714};

/* A clinic whose file is text, copied: the folder of the copy, as osierd would read it. */
static ClinicFolder *copied(const char *text, char **copy)
{
    char *folder = folder_new();
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);

    *copy = folder_new();
    folder_write(folder, "clinic.yaml", text, -1, 0600);
    folder_room(folder, "secrets");
    folder_write(folder, "secrets/texts.key", "a real key", -1, 0600);
    bool made = working_copy_make(folder, *copy, &PLACES, messages);
    ClinicFolder *loaded = made ? clinic_folder_load(*copy, messages) : NULL;
    for (guint i = 0; i < messages->len; i++)
        print_error("%s\n", (const char *)messages->pdata[i]);
    folder_remove(folder);
    assert_non_null(loaded);
    return loaded;
}

static void is_local(const char *url)
{
    if (url == NULL) return;
    const char *host = strstr(url, "://");
    assert_non_null(host);
    assert_true(g_str_has_prefix(host + 3, "127.0.0.1:471"));
}

static void no_address_of_the_clinic_is_left(void **state)
{
    g_autofree char *text = settings_text(0, NULL);
    char *copy;
    g_autoptr(ClinicFolder) folder = copied(text, &copy);

    (void)state;
    for (guint i = 0; i < folder->clinic->gateways->len; i++) {
        const Gateway *gateway = folder->clinic->gateways->pdata[i];
        assert_int_not_equal(gateway->kind, GATEWAY_SPOOL);
        is_local(gateway->send.url);
        if (gateway->poll != NULL) is_local(gateway->poll->url);
        if (gateway->smtp != NULL) is_local(gateway->smtp->url);
        if (gateway->imap != NULL) is_local(gateway->imap->url);
    }
    assert_string_equal(folder->clinic->hooks_listen, "127.0.0.1:4713");
    assert_string_equal(folder->clinic->page_listen, "127.0.0.1:4714");
    folder_remove(copy);
}

static void secrets_are_dummies(void **state)
{
    g_autofree char *text = settings_text(0, NULL);
    char *copy;
    g_autoptr(ClinicFolder) folder = copied(text, &copy);

    (void)state;
    const char *key = secrets_get(folder->secrets, "texts.key");
    const char *hook = secrets_get(folder->secrets, "texts.hook");
    assert_non_null(key);
    assert_non_null(hook);
    assert_null(strstr(key, "real"));
    assert_string_not_equal(key, hook);
    folder_remove(copy);
}

static void a_spool_becomes_the_stand_ins(void **state)
{
    static const char SPOOL[] =
        "clinic: {name: Withy, zone: Europe/London, language: en, phone: \"+442079460100\", "
        "emergency: \"999\", hours: {mon-fri: \"08:30-17:30\"}, quiet: \"21:00-08:00\", "
        "digest: {day: monday, at: \"08:00\", to: [desk@clinic.example]}}\n"
        "duty:\n  - {name: A. Clinician, sms: \"+447700900901\"}\n"
        "gateways: {spool: {kind: spool}}\n";
    char *copy;
    g_autoptr(ClinicFolder) folder = copied(SPOOL, &copy);
    bool texts = false, mail = false;

    (void)state;
    for (guint i = 0; i < folder->clinic->gateways->len; i++) {
        const Gateway *gateway = folder->clinic->gateways->pdata[i];
        texts = texts || gateway->kind == GATEWAY_HTTP_SMS;
        mail = mail || (gateway->kind == GATEWAY_MAIL && gateway->imap != NULL);
        assert_int_not_equal(gateway->kind, GATEWAY_SPOOL);
    }
    assert_true(texts && mail);
    folder_remove(copy);
}

static void secrets_are_found_wherever_they_stand(void **state)
{
    json_t *root =
        json_loads("{\"a\":[\"x {secret:b.key}\",{\"c\":\"{secret:a.key}{secret:b.key}\"}],"
                   "\"d\":7,\"e\":\"{secret:../f}\"}",
                   0, NULL);
    g_autoptr(GPtrArray) names = settings_secrets_named(root);

    (void)state;
    assert_int_equal(names->len, 2);
    assert_string_equal(names->pdata[0], "a.key");
    assert_string_equal(names->pdata[1], "b.key");
    json_decref(root);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(no_address_of_the_clinic_is_left),
        cmocka_unit_test(secrets_are_dummies),
        cmocka_unit_test(a_spool_becomes_the_stand_ins),
        cmocka_unit_test(secrets_are_found_wherever_they_stand),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
