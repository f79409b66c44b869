/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/store/find_people.h"
#include "daemon/control/handlers.h"
#include "daemon/jobs/schedule.h"
#include "tests/bench/office.h"

enum { PAGE = 200 };

typedef struct {
    int first;
    int n;
} Page;

void office_call(Job *job, CallHandler *handler, const char *id, json_t *body, char **made)
{
    Call call = {.id = {g_strdup(id), NULL}, .body = body};

    if (!handler(job, &call)) g_error("%s", json_dumps(call.answer, 0));
    if (made != NULL) *made = g_strdup(json_string_value(json_object_get(call.answer, "client")));
    json_decref(call.answer);
    json_decref(body);
    g_free(call.id[0]);
}

static bool fill_job(Job *job, void *context)
{
    const Page *page = context;

    for (int i = page->first; i < page->first + page->n; i++) {
        g_autofree char *phone = g_strdup_printf("+4477%08d", i);
        g_autofree char *id = NULL;
        office_call(job, handle_client_add, NULL,
                    json_pack("{s:s, s:s, s:s, s:s}", "name", "Ada N.", "phone", phone, "channel",
                              "sms", "consent", "sms: signed form, R. Okafor, 2020-01-31"),
                    &id);
        office_call(job, handle_screen, id,
                    json_pack("{s:s, s:s, s:b}", "by", "R. Okafor", "floor", "yes", "clear", 1),
                    NULL);
        office_call(job, handle_plan_set, id,
                    json_pack("{s:s, s:s, s:s}", "programme", "calf-and-hamstring", "at", "08:30",
                              "stage", "lower-hamstring"),
                    NULL);
    }
    return true;
}

void office_fill(Office *office, int clients)
{
    for (int first = 0; first < clients; first += PAGE) {
        Page page = {.first = first, .n = MIN(PAGE, clients - first)};
        office_job(office, fill_job, &page);
    }
}

typedef struct {
    char *first;       /* the client that the others are like */
    GPtrArray *events; /* of Event: the first one's */
    OfficeSpread spread;
    Page page;
} Likeness;

static bool keep_event(const Event *event, void *context)
{
    g_ptr_array_add(context, event_copy(event));
    return true;
}

static bool first_job(Job *job, void *context)
{
    Likeness *likeness = context;
    Page page = {.first = 0, .n = 1};

    fill_job(job, &page);
    g_autoptr(GPtrArray) contacts = find_contacts_by_address(job->tx, "+447700000000");
    g_assert(contacts->len == 1);
    likeness->first = g_strdup(row_text(contacts->pdata[0], CONTACT_CLIENT));
    tx_events(job->tx, "subject = ?1", keep_event, likeness->events, "t", likeness->first);
    return true;
}

/* Scattered, and none twice: the factor is odd. */
static char *alike_id(int number)
{
    return g_strdup_printf("%08X", (unsigned)number * 2654435761u);
}

static void set_field(json_t *fields, const char *name, json_t *value)
{
    if (json_object_get(fields, name) != NULL) json_object_set(fields, name, value);
    json_decref(value);
}

/* When they are reminded: ["08:30"]. */
static json_t *alike_times(const OfficeSpread *spread, int number)
{
    int minute = spread->each > 0 ? number / spread->each : 0;
    bool evening = minute > 0 && minute >= spread->groups;
    g_autofree char *at = evening ? g_strdup("18:00") : g_strdup_printf("08:%02d", 30 + minute);

    return json_pack("[s]", at);
}

static void make_alike(Job *job, const Likeness *likeness, int number)
{
    g_autofree char *id = alike_id(number);
    g_autofree char *phone = g_strdup_printf("+4477%08d", number);

    for (guint i = 0; i < likeness->events->len; i++) {
        const Event *event = likeness->events->pdata[i];
        json_t *body = json_loads(event->body, 0, NULL);
        json_t *fields = json_object_get(body, "fields");
        set_field(fields, "phone", json_string(phone));
        set_field(fields, "times", alike_times(&likeness->spread, number));
        tx_append(job->tx, event->kind, id, event->author, NULL, body);
    }
    g_autoptr(Person) person = person_load(job, id);
    schedule_next(job, person, job->now_ms);
}

static bool alike_job(Job *job, void *context)
{
    const Likeness *likeness = context;

    for (int i = 0; i < likeness->page.n; i++)
        make_alike(job, likeness, likeness->page.first + i);
    return true;
}

void office_fill_alike(Office *office, int clients)
{
    office_fill_spread(office, clients, (OfficeSpread){0});
}

void office_fill_spread(Office *office, int clients, OfficeSpread spread)
{
    Likeness likeness = {.events = g_ptr_array_new_with_free_func((GDestroyNotify)event_free),
                         .spread = spread};

    office_job(office, first_job, &likeness);
    for (int first = 1; first < clients; first += PAGE) {
        likeness.page = (Page){.first = first, .n = MIN(PAGE, clients - first)};
        office_job(office, alike_job, &likeness);
    }
    g_ptr_array_unref(likeness.events);
    g_free(likeness.first);
}
