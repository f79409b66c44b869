/* SPDX-License-Identifier: Apache-2.0 */
/* The digest of a full clinic, drawn and composed as it is mailed. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

#include "adapters/mail/compose.h"
#include "daemon/paint/drawing.h"
#include "tests/support/folder.h"

enum { CLIENTS = 60, SESSIONS = 112, READINGS = 8, MAIL_BYTES_MOST = 300 * 1000 };

static const char SETTINGS[] = "clinic:\n"
                               "  name: Alder Row Physiotherapy\n"
                               "  zone: Europe/London\n"
                               "  language: %s\n"
                               "  phone: \"+442079460100\"\n"
                               "  emergency: \"999\"\n"
                               "  country_code: \"44\"\n"
                               "  hours: {mon-fri: \"08:30-17:30\"}\n"
                               "  quiet: \"21:00-08:00\"\n"
                               "  digest: {day: monday, at: \"08:00\", to: [desk@clinic.example]}\n"
                               "duty:\n"
                               "  - {name: R. Okafor, sms: \"+442079460190\"}\n"
                               "gateways:\n"
                               "  box: {kind: spool}\n";

/* Two sessions a day for eight weeks, each told with other numbers, and range measured every week. */
static Picture *full_course(const Pack *pack, int client)
{
    CourseSession sessions[SESSIONS];
    CourseReading readings[READINGS * 2];

    for (int i = 0; i < SESSIONS; i++)
        sessions[i] = (CourseSession){.day = i / 2,
                                      .state = (i + client) % 5 == 0 ? "silent" : "done",
                                      .intensity = (i * 7 + client) % 9,
                                      .pain = (i * 3 + client) % 8};
    for (int i = 0; i < READINGS * 2; i++)
        readings[i] =
            (CourseReading){.day = i / 2 * 7, .degrees = 55 + i + client % 20, .right = i % 2 == 1};
    return picture_of_course(pack, &(CourseAsk){.from = 0,
                                                .to = SESSIONS / 2 - 1,
                                                .sessions = sessions,
                                                .n_sessions = SESSIONS,
                                                .readings = readings,
                                                .n_readings = READINGS * 2,
                                                .goal = {90, 85}});
}

/* Everybody is to be called, for two reasons, and has needs, alerts and trends. */
static Digest *full_digest(void)
{
    Digest *digest = digest_new("Alder Row Physiotherapy", 20514, 20520);

    for (int i = 0; i < CLIENTS; i++) {
        g_autofree char *name = g_strdup_printf("Wilhelmina Featherstonehaugh %d", i);
        DigestCall *call = digest_call(digest, "K7QF2M9T", name);
        DigestClient *client = digest_client(digest, "K7QF2M9T", name);
        call->phone = g_strdup("+447700900118");
        call->needs = g_strdup("hard of hearing, let it ring; her daughter picks up on Mondays");
        digest_matter(call->reasons, "missed-run", "3", 20516, "open");
        digest_matter(call->reasons, "pain", "8", 20517, "open");
        client->stage = g_strdup("Hamstrings at the door frame");
        client->counts = (SessionCounts){4, 2, 2, 3, 2, 1};
        client->intensity = 4.5;
        client->pain = 8;
        client->has_intensity_trend = client->has_pain_trend = true;
        client->intensity_trend = client->pain_trend = TREND_RISING;
        for (int j = 0; j < 3; j++)
            digest_matter(client->alerts, "pain", "8", 20515 + j, "closed")->outcome =
                g_strdup("step-back");
        client->readiness = g_strdup("step back");
    }
    return digest;
}

static GPtrArray *full_pictures(const Pack *pack, const Digest *digest)
{
    GPtrArray *pictures = g_ptr_array_new_with_free_func((GDestroyNotify)picture_free);
    AdherenceEntry entries[CLIENTS];

    for (int i = 0; i < CLIENTS; i++) {
        const DigestClient *client = digest->clients->pdata[i];
        entries[i] = (AdherenceEntry){.name = client->name, .counts = client->counts};
    }
    g_ptr_array_add(pictures, picture_of_adherence(pack, entries, CLIENTS));
    for (int i = 0; i < CLIENTS; i++)
        g_ptr_array_add(pictures, full_course(pack, i));
    return pictures;
}

static int count_of(const char *text, const char *part)
{
    int n = 0;

    for (const char *at = strstr(text, part); at != NULL; at = strstr(at + 1, part))
        n++;
    return n;
}

static void weigh(const char *language)
{
    char *folder = folder_new();
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);
    g_autofree char *clinic = g_strdup_printf(SETTINGS, language);

    folder_write(folder, "clinic.yaml", clinic, -1, 0600);
    folder_room(folder, "spool");
    Settings *settings = settings_load(folder, messages);
    assert_non_null(settings);
    const Pack *pack = settings_pack(settings, language);
    Digest *digest = full_digest();
    g_autofree char *text = digest_text(digest, pack);
    g_autoptr(Drawing) drawing = drawing_of_digest(digest, full_pictures(pack, digest), settings);
    g_autoptr(GBytes) drawn = drawing_draw(drawing);
    g_autofree char *html = g_strndup(g_bytes_get_data(drawn, NULL), g_bytes_get_size(drawn));
    g_autofree char *why = NULL;
    g_autoptr(GBytes) mail = mail_compose("Alder Row <sessions@clinic.example>",
                                          &(Outgoing){.id = "00000000000000000000000000000001",
                                                      .to = "desk@clinic.example",
                                                      .subject = "The week",
                                                      .text = text,
                                                      .html = html},
                                          false, &why);
    assert_non_null(mail);
    assert_true(g_bytes_get_size(mail) < MAIL_BYTES_MOST);
    /* Everybody is told of in words; the pictures are as many as fit. */
    assert_int_equal(count_of(html, "<li "), CLIENTS);
    assert_in_range(count_of(html, "<img "), 3, CLIENTS);
    settings_unref(settings);
    folder_remove(folder);
}

static void sixty_clients_are_a_mail_under_300_kb(void **state)
{
    (void)state;
    mail_start();
    weigh("en");
    weigh("es");
    weigh("fr");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sixty_clients_are_a_mail_under_300_kb),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
