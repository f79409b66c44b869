/* SPDX-License-Identifier: Apache-2.0 */
/* How a gateway of text messages is asked to send, and asked for what came in. */
#include "core/clinic/parts.h"
#include "core/clinic/template.h"

enum { STATUS_MAX = 32 };

static const char *const SEND_WORDS[] = {"to", "text", "id", "from", NULL};
static const char *const ASK_WORDS[] = {"id", NULL};
static const char *const POLL_WORDS[] = {"cursor", NULL};

static void clear_signature(Signature *signature)
{
    g_clear_pointer(&signature->secrets, g_ptr_array_unref);
    g_clear_pointer(&signature->header, g_free);
    g_clear_pointer(&signature->prefix, g_free);
}

static void free_ask(AskMapping *ask)
{
    if (ask == NULL) return;
    g_free(ask->url);
    json_decref(ask->headers);
    g_free(ask->id);
    g_clear_pointer(&ask->none_status, g_array_unref);
    g_free(ask);
}

static void free_poll(PollMapping *poll)
{
    if (poll == NULL) return;
    char *texts[] = {poll->url,  poll->items, poll->id,    poll->from,
                     poll->text, poll->at,    poll->cursor};
    for (size_t i = 0; i < G_N_ELEMENTS(texts); i++)
        g_free(texts[i]);
    json_decref(poll->headers);
    g_free(poll);
}

static void free_webhook(WebhookMapping *webhook)
{
    if (webhook == NULL) return;
    char *texts[] = {webhook->path, webhook->id, webhook->from, webhook->text, webhook->at};
    for (size_t i = 0; i < G_N_ELEMENTS(texts); i++)
        g_free(texts[i]);
    clear_signature(&webhook->signature);
    g_free(webhook);
}

static void free_receipts(ReceiptMapping *receipts)
{
    if (receipts == NULL) return;
    g_free(receipts->path);
    g_free(receipts->id);
    g_free(receipts->status);
    g_clear_pointer(&receipts->delivered, g_ptr_array_unref);
    g_clear_pointer(&receipts->failed, g_ptr_array_unref);
    g_clear_pointer(&receipts->poll_delivered, g_ptr_array_unref);
    g_clear_pointer(&receipts->poll_failed, g_ptr_array_unref);
    free_poll(receipts->poll);
    clear_signature(&receipts->signature);
    g_free(receipts);
}

void mapping_clear(Gateway *gateway)
{
    SendMapping *send = &gateway->send;

    g_free(send->url);
    g_free(send->method);
    g_free(send->accepted_id);
    g_free(send->refused_reason);
    json_decref(send->headers);
    json_decref(send->form);
    json_decref(send->json);
    json_decref(send->query);
    g_clear_pointer(&send->accepted_status, g_array_unref);
    g_clear_pointer(&send->refused_status, g_array_unref);
    free_ask(gateway->ask);
    free_poll(gateway->poll);
    free_webhook(gateway->webhook);
    free_receipts(gateway->receipts);
}

/* Adds one status; a fault where it is none. */
static void add_status(const Section *section, const char *pointer, json_t *item, GArray *statuses)
{
    json_int_t number = json_integer_value(item);

    if (json_is_integer(item) && number >= 100 && number <= 599 && statuses->len < STATUS_MAX) {
        int status = (int)number;
        g_array_append_val(statuses, status);
        return;
    }
    g_autofree char *written = fault_written(section->faults, pointer, item);
    fault_add(section->faults, pointer, written, "must be an HTTP status from 100 to 599");
}

/* Under a key: one status, or a list of them; otherwise (ended by 0) where absent. */
static GArray *read_statuses(const Section *section, const char *key, const int *otherwise)
{
    GArray *statuses = g_array_new(FALSE, FALSE, sizeof(int));
    json_t *value = json_object_get(section->object, key);
    g_autofree char *pointer = fault_pointer(section->pointer, key);
    size_t index;
    json_t *item;

    for (; value == NULL && *otherwise != 0; otherwise++)
        g_array_append_val(statuses, *otherwise);
    if (value != NULL && !json_is_array(value)) add_status(section, pointer, value, statuses);
    json_array_foreach(value, index, item)
    {
        g_autofree char *place = fault_pointer_item(pointer, index);
        add_status(section, place, item, statuses);
    }
    return statuses;
}

static void read_answers(const Section *section, SendMapping *send)
{
    static const char *const ACCEPTED_KEYS[] = {"status", "id", NULL};
    static const char *const REFUSED_KEYS[] = {"status", "reason", NULL};
    static const int ACCEPTED[] = {200, 201, 202, 204, 0}, REFUSED[] = {400, 404, 422, 0};
    g_auto(Section) accepted = section_open(section, "accepted", false, ACCEPTED_KEYS);
    g_auto(Section) refused = section_open(section, "refused", false, REFUSED_KEYS);

    send->accepted_status = read_statuses(&accepted, "status", ACCEPTED);
    send->accepted_id = section_pointer(&accepted, "id", false, true);
    send->refused_status = read_statuses(&refused, "status", REFUSED);
    send->refused_reason = section_pointer(&refused, "reason", false, true);
    if (send->accepted_status->len == 0 &&
        json_is_array(json_object_get(accepted.object, "status")))
        section_fault(&accepted, "status", "is empty; nothing would ever count as sent");
    for (guint i = 0; i < send->accepted_status->len; i++)
        for (guint k = 0; k < send->refused_status->len; k++)
            if (g_array_index(send->accepted_status, int, i) ==
                g_array_index(send->refused_status, int, k))
                section_fault(section_has(&refused, "status") ? &refused : &accepted, "status",
                              "%d is both accepted and refused",
                              g_array_index(send->accepted_status, int, i));
}

/* http:// or https:// with a host that holds no placeholder. */
static void check_url(const Section *section, const char *url)
{
    const char *host = g_str_has_prefix(url, "https://")  ? url + 8
                       : g_str_has_prefix(url, "http://") ? url + 7
                                                          : "";
    size_t length = strcspn(host, "/?#");

    if (length == 0 || memchr(host, '{', length) != NULL || strpbrk(url, " \t\r\n") != NULL)
        section_fault(section, "url",
                      "must be a web address such as https://gateway.example/v1/messages");
    else if (memchr(host, '@', length) != NULL)
        section_fault_hushed(section, "url",
                             "must not hold a user or password; use headers and {secret:NAME}");
}

static bool holds(const SendMapping *send, const char *word)
{
    return (send->url != NULL && template_holds(send->url, word)) ||
           template_holds_any(send->form, word) || template_holds_any(send->json, word) ||
           template_holds_any(send->query, word) || template_holds_any(send->headers, word);
}

static void check_send(const Section *section, const Gateway *gateway)
{
    static const char *const NEEDED[] = {"to", "text"};
    const SendMapping *send = &gateway->send;
    bool body = send->form != NULL || send->json != NULL;

    if (send->form != NULL && send->json != NULL)
        section_fault(section, "json", "form and json are both given; a request has one body");
    if (body && g_strcmp0(send->method, "GET") == 0)
        section_fault(section, "method", "GET takes no form or json; use query");
    for (size_t i = 0; i < G_N_ELEMENTS(NEEDED); i++)
        if (!holds(send, NEEDED[i]))
            fault_add_key(section->faults, section->pointer, "send",
                          "uses {%s} nowhere (url, form, json or query)", NEEDED[i]);
    if (gateway->from == NULL && holds(send, "from"))
        fault_add_key(section->faults, section->pointer, "send",
                      "uses {from}, but the gateway has no from:");
    if (gateway->takes_key && !holds(send, "id"))
        fault_add_key(
            section->faults, section->pointer, "send",
            "uses {id} nowhere, but takes_key says that the gateway drops what it saw already");
}

void send_read(const Section *gateway, Gateway *into)
{
    static const char *const KEYS[] = {"url",   "method",   "headers", "form", "json",
                                       "query", "accepted", "refused", NULL};
    static const char *const METHODS[] = {"POST", "GET", "PUT", "PATCH", NULL};
    g_auto(Section) section = section_open(gateway, "send", gateway->given, KEYS);
    SendMapping *send = &into->send;

    send->url = section_template(&section, "url", true, SEND_WORDS);
    if (send->url != NULL) check_url(&section, send->url);
    send->method = g_strdup(METHODS[section_choice(&section, "method", METHODS, 0)]);
    send->headers = section_headers(&section, "headers", SEND_WORDS);
    send->form = section_fields(&section, "form", SEND_WORDS);
    send->query = section_fields(&section, "query", SEND_WORDS);
    send->json = json_incref(json_object_get(section.object, "json"));
    g_autofree char *place = fault_pointer(section.pointer, "json");
    template_check_all(section.faults, place, send->json, SEND_WORDS);
    read_answers(&section, send);
    if (section.given) check_send(&section, into);
}

void ask_read(const Section *gateway, Gateway *into)
{
    static const char *const KEYS[] = {"url", "headers", "id", "none", NULL};
    static const int NONE[] = {404, 0};
    g_auto(Section) section = section_open(gateway, "ask", false, KEYS);

    if (!section.given) return;
    AskMapping *ask = g_new0(AskMapping, 1);
    into->ask = ask;
    ask->url = section_template(&section, "url", true, ASK_WORDS);
    if (ask->url != NULL) check_url(&section, ask->url);
    if (ask->url != NULL && !template_holds(ask->url, "id"))
        section_fault(&section, "url",
                      "does not hold {id}: the gateway must be asked about one message");
    ask->headers = section_headers(&section, "headers", ASK_WORDS);
    ask->id = section_pointer(&section, "id", true, false);
    ask->none_status = read_statuses(&section, "none", NONE);
    if (!holds(&into->send, "id"))
        section_fault(&section, "url", "asks by {id}, which send does not give to the gateway");
}

/* What a poll of messages and one of receipts have in common. */
static PollMapping *read_asking(const Section *section)
{
    PollMapping *poll = g_new0(PollMapping, 1);

    poll->url = section_template(section, "url", true, POLL_WORDS);
    if (poll->url != NULL) check_url(section, poll->url);
    poll->headers = section_headers(section, "headers", POLL_WORDS);
    poll->every_ms = section_duration(section, "every", 30 * SECOND_MS, SECOND_MS, DAY_MS);
    poll->items = section_pointer(section, "items", false, true);
    if (poll->items == NULL) poll->items = g_strdup("");
    poll->cursor = section_pointer(section, "cursor", false, true);
    bool used = (poll->url != NULL && template_holds(poll->url, "cursor")) ||
                template_holds_any(poll->headers, "cursor");
    if (used && !section_has(section, "cursor"))
        section_fault(section, "url",
                      "uses {cursor}, but cursor: does not say where the next one stands");
    if (!used && poll->cursor != NULL && poll->url != NULL)
        section_fault(section, "cursor", "is read but never used; put {cursor} into the url");
    return poll;
}

void poll_read(const Section *gateway, Gateway *into)
{
    static const char *const KEYS[] = {"url",  "headers", "every", "items",  "id",
                                       "from", "text",    "at",    "cursor", NULL};
    g_auto(Section) section = section_open(gateway, "poll", false, KEYS);

    if (!section.given) return;
    PollMapping *poll = read_asking(&section);
    into->poll = poll;
    poll->id = section_pointer(&section, "id", false, false);
    poll->from = section_pointer(&section, "from", true, false);
    poll->text = section_pointer(&section, "text", true, false);
    poll->at = section_pointer(&section, "at", false, false);
}

PollMapping *receipts_poll_read(const Section *section)
{
    PollMapping *poll = read_asking(section);

    poll->id = section_pointer(section, "id", true, false);
    poll->text = section_pointer(section, "status", true, false);
    return poll;
}
