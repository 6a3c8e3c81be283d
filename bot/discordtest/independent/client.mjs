// Logs in to the fake Discord server, registers commands, answers one
// interaction of each kind, posts and pins a message, and says what it saw. Its
// library shares no code with the one that Setscrew uses.
import { ButtonBuilder, ActionRowBuilder, ButtonStyle, Client, ComponentType, GatewayIntentBits, MessageFlags } from 'discord.js';

const [base, channelID] = process.argv.slice(2);
const client = new Client({ intents: [GatewayIntentBits.Guilds], rest: { api: base + '/api', version: '10' } });

client.once('clientReady', async () => {
  console.log('ready as ' + client.user.username);
  await client.application.commands.set([
    { name: 'ping', description: 'Answers', options: [{ type: 3, name: 'word', description: 'A word', required: true }, { type: 6, name: 'who', description: 'Somebody' }] },
    { name: 'slowly', description: 'Answers later' },
    { name: 'shop', description: 'A group', options: [{ type: 2, name: 'gauge', description: 'A group in it', options: [{ type: 1, name: 'add', description: 'Adds', options: [{ type: 4, name: 'count', description: 'How many', min_value: 1, max_value: 9 }] }] }] },
    { name: 'Look At', type: 3 },
    { name: 'may', description: 'Says what it may do in its channel, and which roles anybody may mention' },
  ]);
  const late = await client.application.commands.create({ name: 'late', description: 'Comes later' });
  console.log('made ' + late.name);
  console.log('registered');
});

client.on('interactionCreate', async (i) => {
  if (i.isChatInputCommand() && i.commandName === 'ping') {
    const row = new ActionRowBuilder().addComponents(new ButtonBuilder().setCustomId('more').setLabel('More').setStyle(ButtonStyle.Primary));
    const who = i.options.getUser('who');
    await i.reply({ content: `pong ${i.options.getString('word')} ${who ? who.username : ''}`, flags: MessageFlags.Ephemeral, components: [row] });
  } else if (i.isChatInputCommand() && i.commandName === 'shop') {
    const said = `${i.options.getSubcommandGroup()} ${i.options.getSubcommand()} ${i.options.getInteger('count')}`;
    const text = { type: ComponentType.TextDisplay, content: said };
    const made = await i.reply({ flags: MessageFlags.IsComponentsV2, withResponse: true, components: [{ type: ComponentType.Container, components: [text] }] });
    console.log('reply ' + made.resource.message.id);
    const row = new ActionRowBuilder().addComponents(new ButtonBuilder().setCustomId('form').setLabel('Form').setStyle(ButtonStyle.Primary), new ButtonBuilder().setURL('https://example.org').setLabel('Page').setStyle(ButtonStyle.Link));
    await i.followUp({ content: said, components: [row] });
  } else if (i.isMessageContextMenuCommand()) {
    await i.reply('looked at ' + i.targetMessage.content);
    await i.fetchReply();
    await i.deleteReply();
  } else if (i.isModalSubmit()) {
    await i.reply('typed ' + i.fields.getTextInputValue('in'));
  } else if (i.isButton() && i.customId === 'form') {
    await i.showModal({ title: 'Form', custom_id: 'form', components: [{ type: ComponentType.Label, label: 'Word', component: { type: ComponentType.TextInput, custom_id: 'in', style: 1 } }] });
  } else if (i.isChatInputCommand() && i.commandName === 'may') {
    const may = i.guild.channels.cache.get(channelID).permissionsFor(i.guild.members.me).bitfield;
    await i.reply(`${may} ${i.guild.roles.cache.filter((r) => r.mentionable).map((r) => r.name)}`);
  } else if (i.isChatInputCommand()) {
    await i.deferReply();
    await i.editReply('at last');
    const message = await client.rest.post(`/channels/${channelID}/messages`, { body: { content: 'posted', nonce: 'n1', enforce_nonce: true } });
    const again = await client.rest.post(`/channels/${channelID}/messages`, { body: { content: 'posted', nonce: 'n1', enforce_nonce: true } });
    await client.rest.put(`/channels/${channelID}/messages/pins/${message.id}`);
    console.log(again.id === message.id ? 'once' : 'twice');
  } else if (i.isButton()) {
    await i.update({ content: 'pressed ' + i.customId, components: [] });
  }
});

client.on('error', (e) => console.log('error', e));
client.login(process.env.FAKE_TOKEN);
