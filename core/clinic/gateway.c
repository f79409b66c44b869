/* SPDX-License-Identifier: Apache-2.0 */
/* The gateways: what all kinds share, and mail. Mappings of text gateways are read in mapping.c and
 * webhook.c. */
#include "core/clinic/address.h"
#include "core/clinic/parts.h"
#include "core/clinic/template.h"

enum {
    NAME_BYTES_MAX = 32,
    FROM_BYTES_MAX = 320,
    URL_BYTES_MAX = 500,
    CONCURRENCY = 32,
    CONCURRENCY_MAX = 64,
    CODE_DIGITS_MAX = 7
};

static const double RATE_MAX = 1000, PRICE_MAX = 1000;

static void free_server(MailServer *server)
{
    if (server == NULL) return;
    g_free(server->url);
    g_free(server->user);
    g_free(server->password);
    g_free(server);
}

void gateway_free(void *data)
{
    Gateway *gateway = data;

    g_free(gateway->name);
    g_clear_pointer(&gateway->countries, g_ptr_array_unref);
    g_clear_pointer(&gateway->command, g_ptr_array_unref);
    g_free(gateway->from);
    g_free(gateway->mail_from);
    free_server(gateway->smtp);
    free_server(gateway->imap);
    mapping_clear(gateway);
    g_free(gateway);
}

/* "5/s", "30/min", "200/h" to messages a second; 0 where it is none. */
static double rate_parse(const char *text)
{
    static const struct {
        const char *unit;
        double seconds;
    } UNITS[] = {{"/s", 1}, {"/min", 60}, {"/h", 3600}};
    size_t digits = strspn(text, "0123456789.");
    char *end;
    double number = g_ascii_strtod(text, &end);

    if (digits == 0 || end != text + digits) return 0;
    for (size_t i = 0; i < G_N_ELEMENTS(UNITS); i++)
        if (strcmp(end, UNITS[i].unit) == 0) return number / UNITS[i].seconds;
    return 0;
}

static void read_common(const Section *section, Gateway *gateway)
{
    const char *rate = section_text(section, "rate", false);

    gateway->rate = rate != NULL ? rate_parse(rate) : 0;
    if (rate != NULL && (gateway->rate <= 0 || gateway->rate > RATE_MAX))
        section_fault(section, "rate",
                      "must be a rate such as 5/s, 30/min or 200/h, at most 1000/s");
    gateway->concurrency = fault_whole(section->faults, section->pointer, section->object,
                                       "concurrency", CONCURRENCY, 1, CONCURRENCY_MAX);
    gateway->price =
        fault_number(section->faults, section->pointer, section->object, "price", 0, 0, PRICE_MAX);
    gateway->takes_key =
        fault_bool(section->faults, section->pointer, section->object, "takes_key", false);
}

/* SCHEME://HOST with one of two schemes; a fault otherwise. */
static void check_url(const Section *section, const char *url, const char *plain,
                      const char *secure)
{
    const char *host = strstr(url, "://");
    bool known = host != NULL && ((g_str_has_prefix(url, plain) && url + strlen(plain) == host) ||
                                  (g_str_has_prefix(url, secure) && url + strlen(secure) == host));

    if (!known || host[3] == '\0' || host[3] == '/' || strpbrk(url, " \t{}") != NULL)
        section_fault(section, "url", "must be an address such as %s://mail.example", secure);
    else if (strchr(host, '@') != NULL)
        section_fault_hushed(section, "url",
                             "must not hold a user or password; write user: and password:");
}

static MailServer *read_server(const Section *gateway, const char *key, bool required,
                               const char *plain, const char *secure)
{
    static const char *const SMTP_KEYS[] = {"url", "user", "password", NULL};
    static const char *const IMAP_KEYS[] = {"url", "user", "password", "every", NULL};
    static const char *const NONE[] = {NULL};
    bool imap = strcmp(key, "imap") == 0;
    g_auto(Section) section = section_open(gateway, key, required, imap ? IMAP_KEYS : SMTP_KEYS);

    if (!section.given) return NULL;
    MailServer *server = g_new0(MailServer, 1);
    server->url = section_line(&section, "url", true, URL_BYTES_MAX);
    if (server->url != NULL) check_url(&section, server->url, plain, secure);
    server->user = section_line(&section, "user", false, FROM_BYTES_MAX);
    server->password = section_template(&section, "password", false, NONE);
    if ((server->user == NULL) != (server->password == NULL) &&
        section_has(&section, "user") != section_has(&section, "password"))
        fault_add(section.faults, section.pointer, server->user,
                  "needs both user and password, or neither");
    if (imap) server->every_ms = section_duration(&section, "every", MINUTE_MS, SECOND_MS, DAY_MS);
    return server;
}

static void read_mail(const Section *section, Gateway *gateway)
{
    const char *why = NULL;

    gateway->mail_from = section_line(section, "from", true, FROM_BYTES_MAX);
    if (gateway->mail_from != NULL) {
        g_autofree char *address = mail_address_of(gateway->mail_from, &why);
        if (address == NULL) section_fault(section, "from", "%s", why);
    }
    gateway->smtp = read_server(section, "smtp", true, "smtp", "smtps");
    gateway->imap = read_server(section, "imap", false, "imap", "imaps");
}

/* A country code, or more of a number's first digits, without the "+". */
static bool is_code(const char *text)
{
    size_t digits = strspn(text, "0123456789");

    return digits > 0 && text[digits] == '\0' && digits <= CODE_DIGITS_MAX && text[0] != '0';
}

static void read_countries(const Section *section, Gateway *gateway)
{
    gateway->countries = section_texts(section, "for", false);
    for (guint i = 0; i < gateway->countries->len; i++)
        if (!is_code(gateway->countries->pdata[i])) {
            g_autofree char *list = fault_pointer(section->pointer, "for");
            g_autofree char *place = fault_pointer_item(list, i);
            bool one = !json_is_array(json_object_get(section->object, "for"));
            fault_add(section->faults, one ? list : place, gateway->countries->pdata[i],
                      "must be a country code in quotes, such as \"44\": 1 to %d digits, no + or "
                      "leading 0",
                      CODE_DIGITS_MAX);
        }
    if (section_has(section, "for") && gateway->countries->len == 0)
        section_fault(section, "for", "is empty; leave it out to serve every number");
}

static void read_texts(const Section *section, const Clinic *clinic, Gateway *gateway)
{
    read_countries(section, gateway);
    gateway->from = section_line(section, "from", false, FROM_BYTES_MAX);
    gateway->answer_ms =
        section_duration(section, "answer", 30 * SECOND_MS, SECOND_MS, 50 * SECOND_MS);
    send_read(section, gateway);
    ask_read(section, gateway);
    poll_read(section, gateway);
    hooks_read(section, clinic, gateway);
}

/* command: a path in the clinic's folder or from the root, and words for it. */
static void read_program(const Section *section, Gateway *gateway)
{
    read_countries(section, gateway);
    gateway->command = section_texts(section, "command", true);
    const char *path = gateway->command->len > 0 ? gateway->command->pdata[0] : NULL;
    if (path != NULL && strchr(path, '/') == NULL)
        section_fault(section, "command",
                      "must begin with the path of a program, such as programs/modem; nothing is "
                      "looked for elsewhere");
    else if (path == NULL && section_has(section, "command") &&
             json_is_array(json_object_get(section->object, "command")))
        section_fault(section, "command", "is empty; it names a program and words for it");
    g_ptr_array_add(gateway->command, NULL);
    gateway->answer_ms = section_duration(section, "answer", MINUTE_MS, SECOND_MS, HOUR_MS);
    gateway->can_be_asked =
        fault_bool(section->faults, section->pointer, section->object, "can_be_asked", false);
}

/* Which keys a gateway knows hangs on its kind; of an unknown kind, all are let pass. */
static const char *const *keys_of(int kind)
{
    static const char *const TEXTS[] = {"kind",    "rate",     "concurrency", "price", "takes_key",
                                        "for",     "from",     "send",        "ask",   "poll",
                                        "webhook", "receipts", "answer",      NULL};
    static const char *const MAIL[] = {"kind", "rate", "concurrency", "price", "takes_key",
                                       "from", "smtp", "imap",        NULL};
    static const char *const SPOOL[] = {"kind", "rate", "concurrency", "price", "takes_key", NULL};
    static const char *const PROGRAM[] = {"kind",         "rate", "concurrency", "price",
                                          "takes_key",    "for",  "command",     "answer",
                                          "can_be_asked", NULL};
    static const char *const ANY[] = {
        "command", "answer",    "can_be_asked", "kind", "rate", "concurrency",
        "price",   "takes_key", "for",          "from", "send", "ask",
        "poll",    "webhook",   "receipts",     "smtp", "imap", NULL};

    switch (kind) {
    case GATEWAY_HTTP_SMS: return TEXTS;
    case GATEWAY_MAIL: return MAIL;
    case GATEWAY_SPOOL: return SPOOL;
    case GATEWAY_PROGRAM: return PROGRAM;
    default: return ANY;
    }
}

static Gateway *read_gateway(const Section *gateways, const Clinic *clinic, const char *name)
{
    static const char *const KINDS[] = {"http-sms", "mail", "spool", "program", NULL};
    json_t *object = json_object_get(gateways->object, name);
    const char *written = json_string_value(json_object_get(object, "kind"));
    int kind = -1;

    for (int i = 0; written != NULL && KINDS[i] != NULL; i++)
        if (strcmp(written, KINDS[i]) == 0) kind = i;
    g_auto(Section) section = section_open(gateways, name, true, keys_of(kind));
    Gateway *gateway = g_new0(Gateway, 1);
    gateway->name = g_strdup(name);
    gateway->kind = kind >= 0 ? (GatewayKind)kind : GATEWAY_SPOOL;
    if (section_text(&section, "kind", true) != NULL) section_choice(&section, "kind", KINDS, 0);
    read_common(&section, gateway);
    if (kind == GATEWAY_HTTP_SMS) read_texts(&section, clinic, gateway);
    if (kind == GATEWAY_MAIL) read_mail(&section, gateway);
    if (kind == GATEWAY_PROGRAM) read_program(&section, gateway);
    return gateway;
}

static bool is_name(const char *text)
{
    size_t length = strspn(text, "abcdefghijklmnopqrstuvwxyz0123456789-");

    return length > 0 && length <= NAME_BYTES_MAX && text[length] == '\0';
}

/* Two webhooks on one path could not be told apart. */
static void check_paths(const Section *gateways, const Clinic *clinic)
{
    g_autoptr(GHashTable) taken = g_hash_table_new(g_str_hash, g_str_equal);

    for (guint i = 0; i < clinic->gateways->len; i++) {
        const Gateway *gateway = clinic->gateways->pdata[i];
        const char *paths[] = {gateway->webhook != NULL ? gateway->webhook->path : NULL,
                               gateway->receipts != NULL ? gateway->receipts->path : NULL};
        for (int k = 0; k < 2; k++) {
            g_autofree char *place =
                g_strdup_printf("%s/%s/%s", gateways->pointer, gateway->name,
                                k == 0 ? "webhook/path" : "receipts/webhook/path");
            if (paths[k] != NULL && !g_hash_table_add(taken, (void *)paths[k]))
                fault_add(gateways->faults, place, paths[k],
                          "is the path of another webhook already");
        }
    }
}

/* Whoever serves some countries alone needs another beside it: a number that no gateway serves could never be warned. */
static void check_countries(const Section *gateways, const Clinic *clinic)
{
    const Gateway *some = NULL;

    for (guint i = 0; i < clinic->gateways->len; i++) {
        const Gateway *gateway = clinic->gateways->pdata[i];
        if (gateway->countries == NULL) continue;
        if (gateway->countries->len == 0) return;
        some = gateway;
    }
    if (some == NULL) return;
    g_autofree char *place = fault_pointer(gateways->pointer, some->name);
    fault_add_key(gateways->faults, place, "for",
                  "every gateway of texts names countries; one must serve all other numbers: leave "
                  "its for out");
}

void gateways_read(const Section *root, Clinic *clinic)
{
    json_t *object = fault_object(root->faults, root->pointer, root->object, "gateways", true);
    Section gateways = {
        .faults = root->faults, .object = object, .pointer = (char *)"/gateways", .given = true};
    const char *name;
    json_t *item;

    json_object_foreach(object, name, item)
    {
        g_autofree char *place = fault_pointer(gateways.pointer, name);
        if (!is_name(name))
            fault_add_key(root->faults, place, name,
                          "a gateway's name has only a-z, 0-9 and dash, at most 32");
        g_ptr_array_add(clinic->gateways, read_gateway(&gateways, clinic, name));
    }
    if (object != NULL && clinic->gateways->len == 0)
        section_fault(root, "gateways",
                      "is empty; begin with texts: {kind: spool}, which sends nothing");
    check_paths(&gateways, clinic);
    check_countries(&gateways, clinic);
}
