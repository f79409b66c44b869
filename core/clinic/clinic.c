/* SPDX-License-Identifier: Apache-2.0 */
#include "core/clinic/clinic.h"

#include "core/clinic/address.h"
#include "core/clinic/parts.h"
#include "core/clinic/template.h"

enum {
    LISTEN_BYTES_MAX = 60,
    SYNC_NAME_BYTES_MAX = 60,
    URL_BYTES_MAX = 200,
    SCHEMA_BYTES_MAX = 60
};

static void read_limits(const Section *root, Clinic *clinic)
{
    static const char *const KEYS[] = {"pain_now",       "pain_today",  "missed_run",
                                       "intensity_high", "per_day_max", NULL};
    g_auto(Section) limits = section_open(root, "limits", false, KEYS);
    Faults *faults = limits.faults;

    clinic->pain_now = fault_whole(faults, limits.pointer, limits.object, "pain_now", 7, 1, 10);
    clinic->pain_today = fault_whole(faults, limits.pointer, limits.object, "pain_today", 4, 1, 10);
    clinic->missed_run = fault_whole(faults, limits.pointer, limits.object, "missed_run", 3, 1, 30);
    clinic->intensity_high =
        fault_whole(faults, limits.pointer, limits.object, "intensity_high", 7, 1, 10);
    clinic->per_day_max =
        fault_whole(faults, limits.pointer, limits.object, "per_day_max", 4, 1, 100);
    if (clinic->pain_today > clinic->pain_now)
        section_fault(&limits, section_has(&limits, "pain_today") ? "pain_today" : "pain_now",
                      "pain_today (%d) must not be over pain_now (%d)", clinic->pain_today,
                      clinic->pain_now);
}

static void read_reminders(const Section *root, Clinic *clinic)
{
    static const char *const KEYS[] = {"ends", "nudge_after", "silent_after", "consent_days", NULL};
    g_auto(Section) reminders = section_open(root, "reminders", false, KEYS);
    json_t *nudge = json_object_get(reminders.object, "nudge_after");

    clinic->reminder_ends_ms = section_duration(&reminders, "ends", 3 * HOUR_MS, SECOND_MS, DAY_MS);
    clinic->silent_after_ms =
        section_duration(&reminders, "silent_after", 20 * HOUR_MS, SECOND_MS, 3 * DAY_MS);
    if (json_is_string(nudge) && strcmp(json_string_value(nudge), "none") == 0)
        clinic->nudge_after_ms = 0;
    else
        clinic->nudge_after_ms =
            section_duration(&reminders, "nudge_after", 4 * HOUR_MS, SECOND_MS, DAY_MS);
    clinic->consent_silence_days = fault_whole(reminders.faults, reminders.pointer,
                                               reminders.object, "consent_days", 180, 0, 1000);
    if (clinic->silent_after_ms <= clinic->reminder_ends_ms)
        section_fault(
            &reminders, section_has(&reminders, "silent_after") ? "silent_after" : "ends",
            "silent_after must be longer than ends: nobody is silent before the reminder's end");
    if (clinic->silent_after_ms <= clinic->nudge_after_ms)
        section_fault(&reminders,
                      section_has(&reminders, "nudge_after") ? "nudge_after" : "silent_after",
                      "nudge_after must be shorter than silent_after, or none");
}

/* The address to listen on: NULL where absent; as written where faulty. */
static char *read_listen(const Section *section)
{
    char *listen = section_line(section, "listen", true, LISTEN_BYTES_MAX);

    if (listen != NULL && !listen_valid(listen))
        section_fault(section, "listen",
                      "must be an IP address and a port, such as 127.0.0.1:8750");
    return listen;
}

/* "https://page.clinic.example", nothing after the host. */
static bool page_url_valid(const char *url)
{
    const char *host = strstr(url, "://");

    return host != NULL &&
           (g_str_has_prefix(url, "https://") || g_str_has_prefix(url, "http://")) &&
           host[3] != '\0' && strpbrk(host + 3, "/?#@ ") == NULL;
}

/* Passwords go over this line: in clear only within this machine. */
static void read_page(const Section *root, Clinic *clinic)
{
    static const char *const KEYS[] = {"listen", "url", "idle", NULL};
    g_auto(Section) page = section_open(root, "page", false, KEYS);

    clinic->page_listen = read_listen(&page);
    clinic->page_url = section_line(&page, "url", false, URL_BYTES_MAX);
    clinic->page_idle_ms = section_duration(&page, "idle", 30 * MINUTE_MS, MINUTE_MS, 12 * HOUR_MS);
    if (clinic->page_listen == NULL) clinic->page_listen = g_strdup("127.0.0.1:8750");
    if (clinic->page_url != NULL && !page_url_valid(clinic->page_url))
        section_fault(&page, "url",
                      "must be an address without a path, such as https://page.clinic.example");
    else if (listen_valid(clinic->page_listen) && !listen_loopback(clinic->page_listen) &&
             (clinic->page_url == NULL || !g_str_has_prefix(clinic->page_url, "https://")))
        section_fault(
            &page, "listen",
            "is not of this machine alone: listen on 127.0.0.1 or [::1], or say with url: "
            "https://... that something before it does TLS");
}

static void read_sync(const Section *root, Clinic *clinic)
{
    static const char *const KEYS[] = {"listen", "name", "every", NULL};
    g_auto(Section) section = section_open(root, "sync", false, KEYS);

    clinic->sync_listen = section_line(&section, "listen", false, LISTEN_BYTES_MAX);
    clinic->sync_name = section_line(&section, "name", false, SYNC_NAME_BYTES_MAX);
    clinic->sync_every_ms =
        section_duration(&section, "every", 5 * MINUTE_MS, 10 * SECOND_MS, DAY_MS);
    if (clinic->sync_listen == NULL) return;
    if (!listen_valid(clinic->sync_listen))
        section_fault(&section, "listen", "must be an IP address and a port, such as 0.0.0.0:8752");
    else if (g_strcmp0(clinic->sync_listen, clinic->page_listen) == 0 ||
             g_strcmp0(clinic->sync_listen, clinic->hooks_listen) == 0)
        section_fault(
            &section, "listen",
            "is where the page or the hooks listen; replicas need a listener of their own");
}

static void read_listeners(const Section *root, Clinic *clinic)
{
    static const char *const KEYS[] = {"listen", NULL};
    g_auto(Section) hooks = section_open(root, "hooks", false, KEYS);

    read_page(root, clinic);
    clinic->hooks_listen = read_listen(&hooks);
    read_sync(root, clinic);
    if (g_strcmp0(clinic->page_listen, clinic->hooks_listen) == 0)
        fault_add(root->faults, "/hooks/listen", clinic->hooks_listen,
                  "is where the page listens; hooks need a listener of their own");
}

/* "osier-seal-" and 43 letters, digits, - and _; whether it is a point on the curve is seen when it is used. */
static bool is_seal_key(const char *text)
{
    size_t head = strlen("osier-seal-");

    if (!g_str_has_prefix(text, "osier-seal-") || strlen(text) != head + 43) return false;
    for (const char *p = text + head; *p != '\0'; p++)
        if (!g_ascii_isalnum(*p) && *p != '-' && *p != '_') return false;
    return true;
}

static void read_backup(const Section *root, Clinic *clinic)
{
    static const char *const KEYS[] = {"at", "keep", "key", NULL};
    g_auto(Section) section = section_open(root, "backup", false, KEYS);
    const char *at = section_text(&section, "at", section.given);

    clinic->backup_second = -1;
    if (at != NULL && !clock_time_parse(at, &clinic->backup_second))
        section_fault(&section, "at", "must be a time of day such as \"03:00\"");
    clinic->backup_keep =
        fault_whole(section.faults, section.pointer, section.object, "keep", 14, 1, 1000);
    clinic->backup_key = section_line(&section, "key", false, LISTEN_BYTES_MAX);
    if (clinic->backup_key != NULL && !is_seal_key(clinic->backup_key))
        section_fault(&section, "key", "must be what osier backup --new-key prints");
}

/* A name that needs no quoting: a-z, 0-9 and _, and not one of the server's own. */
static bool is_schema(const char *name)
{
    if (!g_ascii_islower(name[0]) || strlen(name) > SCHEMA_BYTES_MAX ||
        g_str_has_prefix(name, "pg_"))
        return false;
    for (const char *p = name; *p != '\0'; p++)
        if (!g_ascii_islower(*p) && !g_ascii_isdigit(*p) && *p != '_') return false;
    return true;
}

static void read_store(const Section *root, Clinic *clinic)
{
    static const char *const KEYS[] = {"kind", "connect", "schema", "password", NULL};
    static const char *const KINDS[] = {"sqlite", "postgres", NULL};
    static const char *const NONE[] = {NULL};
    g_auto(Section) store = section_open(root, "store", false, KEYS);
    bool elsewhere = section_choice(&store, "kind", KINDS, 0) == 1;

    for (int i = 1; KEYS[i] != NULL && !elsewhere; i++)
        if (section_has(&store, KEYS[i]))
            section_fault_hushed(&store, KEYS[i], "is for a store of kind postgres");
    if (!elsewhere) return;
    clinic->store_connect = section_line(&store, "connect", true, URL_BYTES_MAX);
    clinic->store_schema = section_line(&store, "schema", true, URL_BYTES_MAX);
    clinic->store_password = section_template(&store, "password", false, NONE);
    if (clinic->store_connect != NULL && (strstr(clinic->store_connect, "password") != NULL ||
                                          strstr(clinic->store_connect, "://") != NULL))
        section_fault_hushed(&store, "connect",
                             "must be words such as host=db.example dbname=osier user=osier, "
                             "without a password: write password: \"{secret:store.key}\"");
    if (clinic->store_schema != NULL && !is_schema(clinic->store_schema))
        section_fault(
            &store, "schema",
            "must be a name of a-z, 0-9 and _ that begins with a letter and not with pg_");
}

static Clinic *clinic_new(void)
{
    Clinic *clinic = g_new0(Clinic, 1);

    clinic->closed = g_array_new(FALSE, FALSE, sizeof(DaySpan));
    clinic->digest_to = g_ptr_array_new_with_free_func(g_free);
    clinic->gateways = g_ptr_array_new_with_free_func(gateway_free);
    return clinic;
}

Clinic *clinic_read(json_t *tree, Faults *faults)
{
    static const char *const KEYS[] = {"clinic",    "duty", "again", "limits",
                                       "reminders", "page", "hooks", "gateways",
                                       "backup",    "sync", "store", NULL};
    guint before = faults->items->len;

    if (!json_is_object(tree)) {
        fault_add(faults, "", "", "must hold the groups clinic, duty and gateways");
        return NULL;
    }
    fault_unknown_keys(faults, "", tree, KEYS);
    Section root = {.faults = faults, .object = tree, .pointer = (char *)"", .given = true};
    g_autoptr(Clinic) clinic = clinic_new();
    profile_read(&root, clinic);
    duty_read(&root, clinic);
    clinic->again_ms = section_duration(&root, "again", 30 * MINUTE_MS, SECOND_MS, DAY_MS);
    read_limits(&root, clinic);
    read_reminders(&root, clinic);
    read_listeners(&root, clinic);
    read_backup(&root, clinic);
    read_store(&root, clinic);
    gateways_read(&root, clinic);
    return faults->items->len == before ? g_steal_pointer(&clinic) : NULL;
}

void clinic_free(Clinic *clinic)
{
    if (clinic == NULL) return;
    g_free(clinic->name);
    g_free(clinic->zone);
    g_free(clinic->language);
    g_free(clinic->phone);
    g_free(clinic->after_hours_phone);
    g_free(clinic->emergency);
    g_free(clinic->crisis);
    g_free(clinic->country_code);
    g_array_unref(clinic->closed);
    g_ptr_array_unref(clinic->digest_to);
    g_clear_pointer(&clinic->duty, g_ptr_array_unref);
    g_free(clinic->backup_key);
    g_free(clinic->page_listen);
    g_free(clinic->page_url);
    g_free(clinic->hooks_listen);
    g_free(clinic->sync_listen);
    g_free(clinic->sync_name);
    g_free(clinic->store_connect);
    g_free(clinic->store_schema);
    g_free(clinic->store_password);
    g_ptr_array_unref(clinic->gateways);
    g_free(clinic);
}

const Gateway *clinic_gateway(const Clinic *clinic, const char *name)
{
    for (guint i = 0; i < clinic->gateways->len; i++) {
        const Gateway *gateway = clinic->gateways->pdata[i];
        if (strcmp(gateway->name, name) == 0) return gateway;
    }
    return NULL;
}
